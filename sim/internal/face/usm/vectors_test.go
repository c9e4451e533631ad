package usm

import (
	"bytes"
	"crypto/aes"
	"crypto/cipher"
	"crypto/des"
	"crypto/hmac"
	"encoding/binary"
	"encoding/hex"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ridethrough/sim/internal/core/snap"
	_ "ridethrough/sim/internal/drawn"
)

// rfcEngine is the engine ID of RFC 3414 section A.3.
const rfcEngine = "\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x02"

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(s, " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestKeys holds the keys of RFC 3414 sections A.3.1 (MD5) and A.3.2 (SHA).
func TestKeys(t *testing.T) {
	for _, tt := range []struct {
		auth          snap.AuthProtocol
		master, local string
	}{
		{snap.AuthMD5, "9faf3283884e92834ebc9847d8edd963", "526f5eed9fcce26f8964c2930787d82b"},
		{snap.AuthSHA1, "9fb5cc0381497b3793528939ff788d5d79145211", "6695febc9288e36282235fc7151f128497b38f3f"},
	} {
		master := snap.Master(tt.auth, "maplesyrup")
		if got := hex.EncodeToString(master); got != tt.master {
			t.Errorf("%v: master %s, want %s", tt.auth, got, tt.master)
		}
		if got := hex.EncodeToString(Localize(tt.auth, master, rfcEngine)); got != tt.local {
			t.Errorf("%v: localised %s, want %s", tt.auth, got, tt.local)
		}
	}
	if snap.Master(snap.AuthNone, "maplesyrup") != nil || snap.Master(snap.AuthMD5, "") != nil {
		t.Error("a master of nothing")
	}
}

// plainMaster is the algorithm as RFC 3414 section A.2 writes it, octet by octet.
func plainMaster(p snap.AuthProtocol, password string) []byte {
	h := p.Digest()
	var block [64]byte
	for count := 0; count < 1<<20; count += len(block) {
		for i := range block {
			block[i] = password[(count+i)%len(password)]
		}
		h.Write(block[:])
	}
	return h.Sum(nil)
}

// TestMasters compares with the slow form for lengths that do and do not divide
// what is hashed. RFC 7860 takes the algorithm over and prints no keys.
func TestMasters(t *testing.T) {
	for p := snap.AuthMD5; p <= snap.AuthSHA512; p++ {
		for _, n := range []int{8, 13, 64, 65} {
			password := strings.Repeat("a long pass phrase, ", 4)[:n]
			if got, want := snap.Master(p, password), plainMaster(p, password); !bytes.Equal(got, want) {
				t.Errorf("%v of %d octets: %x, want %x", p, n, got, want)
			}
		}
	}
}

// nistPlain is the plain text of NIST SP 800-38A appendix F; the IV there reads
// as boots, time and salt of RFC 3826.
const nistPlain = "6bc1bee22e409f96e93d7e117393172a ae2d8a571e03ac9c9eb76fac45af8e51" +
	"30c81c46a35ce411e5fbc1191a0a52ef f69f2445df4f9b17ad2b417be66c3710"

// TestAES holds the encryption against NIST SP 800-38A sections F.3.13, F.3.15
// and F.3.17 (CFB128).
func TestAES(t *testing.T) {
	for _, tt := range []struct {
		priv        snap.PrivProtocol
		key, cipher string
	}{
		{snap.PrivAES128, "2b7e151628aed2a6abf7158809cf4f3c",
			"3b3fd92eb72dad20333449f8e83cfb4a c8a64537a0b3a93fcde3cdad9f1ce58b 26751f67a3cbb140b1808cf187a4f4df c04b05357c5d1c0eeac4c66f9ff7f2e6"},
		{snap.PrivAES192Blumenthal, "8e73b0f7da0e6452c810f32b809079e562f8ead2522c6b7b",
			"cdc80d6fddf18cab34c25909c99a4174 67ce7f7f81173621961a2b70171d3d7a 2e1e8a1dd59b88b1c8e60fed1efac4c9 c05f9f9ca9834fa042ae8fba584b09ff"},
		{snap.PrivAES256Reeder, "603deb1015ca71be2b73aef0857d77811f352c073b6108d72d9810a30914dff4",
			"dc7e84bfda79164b7ecd8486985d3860 39ffed143b28b1c832113c6331e5407b df10132415e54b92a13ed0a8267ae2f9 75a385741ab9cef82031623d55b1e471"},
	} {
		k := NewKey(&snap.User{Auth: snap.AuthMD5}, []byte("any"), nil, rfcEngine)
		k.setCipher(tt.priv, unhex(t, tt.key))
		data, salt := unhex(t, nistPlain), []byte{8, 9, 10, 11, 12, 13, 14, 15}
		k.Encrypt(data, 0x00010203, 0x04050607, salt)
		if want := unhex(t, tt.cipher); !bytes.Equal(data, want) {
			t.Errorf("%v: %x, want %x", tt.priv, data, want)
		}
		if !k.Decrypt(data, 0x00010203, 0x04050607, salt) || !bytes.Equal(data, unhex(t, nistPlain)) {
			t.Errorf("%v: decrypted %x", tt.priv, data)
		}
	}
}

// TestDES compares with the library's chaining over the IV of RFC 3414 section
// 8.1.1.1.
func TestDES(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key := rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "key")
		plain := rapid.SliceOfN(rapid.Byte(), 0, 100).Draw(t, "plain")
		k := NewKey(&snap.User{Auth: snap.AuthSHA1}, key, nil, rfcEngine)
		k.setCipher(snap.PrivDES, key)
		salt := k.Salt(7, rapid.Uint64().Draw(t, "n"))
		data := append(bytes.Clone(plain), make([]byte, k.Padding(len(plain)))...)
		want, iv := bytes.Clone(data), make([]byte, 8)
		for i := range iv {
			iv[i] = key[8+i] ^ salt[i]
		}
		block, err := des.NewCipher(key[:8])
		if err != nil {
			t.Fatal(err)
		}
		cipher.NewCBCEncrypter(block, iv).CryptBlocks(want, want)
		k.Encrypt(data, 7, 100, salt[:])
		if !bytes.Equal(data, want) {
			t.Fatalf("%x, want %x", data, want)
		}
		if !k.Decrypt(data, 7, 100, salt[:]) || !bytes.Equal(data[:len(plain)], plain) {
			t.Fatalf("decrypted %x, want %x", data, plain)
		}
	})
}

// TestLongKeys makes long keys as the two drafts write it, in other words.
func TestLongKeys(t *testing.T) {
	for auth := snap.AuthMD5; auth <= snap.AuthSHA512; auth++ {
		master := snap.Master(auth, "maplesyrup")
		first := Localize(auth, master, rfcEngine)
		h := auth.Digest()
		h.Write(first)
		blumenthal := append(bytes.Clone(first), h.Sum(nil)...)
		reeder := append(bytes.Clone(first), Localize(auth, plainMaster(auth, string(first)), rfcEngine)...)
		for priv, long := range map[snap.PrivProtocol][]byte{
			snap.PrivAES128: first, snap.PrivAES192Blumenthal: blumenthal, snap.PrivAES256Blumenthal: blumenthal,
			snap.PrivAES192Reeder: reeder, snap.PrivAES256Reeder: reeder,
		} {
			got := privacyKey(auth, priv, master, rfcEngine)
			if want := long[:keyOctets[priv]]; !bytes.Equal(got, want) {
				t.Errorf("%v %v: %x, want %x", auth, priv, got, want)
			}
		}
		differ := !bytes.Equal(blumenthal[:32], reeder[:32])
		if short := len(first) < 32; differ != short {
			t.Errorf("%v: the two forms differ: %v, want %v", auth, differ, short)
		}
	}
}

// TestMAC holds the authentication against the library's, cut as RFC 3414
// section 6.1 and RFC 7860 section 4.2 say.
func TestMAC(t *testing.T) {
	octets := map[snap.AuthProtocol]int{snap.AuthMD5: 12, snap.AuthSHA1: 12, snap.AuthSHA224: 16,
		snap.AuthSHA256: 24, snap.AuthSHA384: 32, snap.AuthSHA512: 48}
	for auth, n := range octets {
		master := snap.Master(auth, "maplesyrup")
		k := NewKey(&snap.User{Auth: auth}, master, nil, rfcEngine)
		if k.MACSize() != n {
			t.Errorf("%v carries %d octets, want %d", auth, k.MACSize(), n)
			continue
		}
		message := append([]byte("head"), append(make([]byte, n), "tail"...)...)
		h := hmac.New(auth.Digest, Localize(auth, master, rfcEngine))
		h.Write(message)
		k.Sign(message, 4)
		place := message[4 : 4+n]
		if want := h.Sum(nil)[:n]; !bytes.Equal(place, want) {
			t.Errorf("%v: %x, want %x", auth, place, want)
		}
		before := bytes.Clone(message)
		if !k.Verify(message, place) || !bytes.Equal(message, before) {
			t.Errorf("%v: the right one was refused, or the message changed", auth)
		}
		for i := range message {
			message[i] ^= 1
			if k.Verify(message, place) {
				t.Errorf("%v: a change of octet %d was not seen", auth, i)
			}
			message[i] ^= 1
		}
		if k.Verify(message, place[:n-1]) || k.Verify(message, nil) {
			t.Errorf("%v: a short one was taken", auth)
		}
	}
}

func TestUndecryptable(t *testing.T) {
	for _, tt := range []struct {
		priv snap.PrivProtocol
		data int
		salt int
		want bool
	}{
		{snap.PrivDES, 16, 8, true}, {snap.PrivDES, 15, 8, false}, {snap.PrivDES, 16, 7, false},
		{snap.PrivAES128, 15, 8, true}, {snap.PrivAES128, 16, 0, false}, {snap.PrivAES256Reeder, 0, 9, false},
	} {
		u := &snap.User{Auth: snap.AuthSHA256, Priv: tt.priv}
		k := NewKey(u, []byte("auth"), []byte("priv"), rfcEngine)
		if got := k.Decrypt(make([]byte, tt.data), 1, 2, make([]byte, tt.salt)); got != tt.want {
			t.Errorf("%+v: got %v", tt, got)
		}
	}
	k := NewKey(&snap.User{Auth: snap.AuthSHA256}, []byte("auth"), nil, rfcEngine)
	if k.Decrypt(make([]byte, 8), 1, 2, make([]byte, 8)) {
		t.Error("decrypted without a key")
	}
}

// TestSalt: it never comes again while the engine is up, and that of DES begins
// with the boots.
func TestSalt(t *testing.T) {
	d := &Key{priv: snap.PrivDES}
	if got := d.Salt(0x01020304, 1<<40|5); hex.EncodeToString(got[:]) != "0102030400000005" {
		t.Errorf("DES %x", got)
	}
	a := &Key{priv: snap.PrivAES128}
	if got := a.Salt(9, 1<<40|5); binary.BigEndian.Uint64(got[:]) != 1<<40|5 {
		t.Errorf("AES %x", got)
	}
	if aes.BlockSize != 2*SaltSize {
		t.Error("the IV does not hold boots, time and salt")
	}
}

func TestMastersAreShared(t *testing.T) {
	var m Masters
	one := snap.User{Auth: snap.AuthSHA1, AuthPassword: snap.NewSecret("maplesyrup"), Priv: snap.PrivAES128, PrivPassword: snap.NewSecret("maplesyrup")}
	other := one
	other.Auth = snap.AuthMD5
	m.For(&one, rfcEngine)
	m.For(&one, "another")
	if len(m.keys) != 1 {
		t.Errorf("%d masters for one password", len(m.keys))
	}
	m.For(&other, rfcEngine)
	if len(m.keys) != 2 {
		t.Errorf("%d masters for two protocols", len(m.keys))
	}
}
