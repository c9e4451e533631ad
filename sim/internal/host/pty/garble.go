package pty

// garble is what a receiver at one speed makes of octets that were sent at another,
// 8N1 both: it waits for a start bit and samples each bit at its middle, as it
// takes them to be.
func garble(p []byte, from, to int) []byte {
	if from == to || from <= 0 || to <= 0 {
		return p
	}
	level := func(at float64) bool { // the line, in bits of the sender; idle is 1
		bit := int(at)
		if at < 0 || bit >= len(p)*bitsPerByte {
			return true
		}
		switch k := bit % bitsPerByte; k {
		case 0:
			return false
		case bitsPerByte - 1:
			return true
		default:
			return p[bit/bitsPerByte]>>(k-1)&1 == 1
		}
	}
	out := []byte{}
	width := float64(from) / float64(to) // of a bit of the receiver
	for at := 0.0; at < float64(len(p)*bitsPerByte); {
		if level(at) {
			at += width / 16
			continue
		}
		b := byte(0)
		for i := range 8 {
			if level(at + (1.5+float64(i))*width) {
				b |= 1 << i
			}
		}
		out = append(out, b)
		at += 9.5 * width
	}
	return out
}
