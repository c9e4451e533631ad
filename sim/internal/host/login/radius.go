package login

import (
	"context"
	"crypto/hmac"
	"crypto/md5"
	"errors"
	"fmt"
	"net"

	"layeh.com/radius"
	"layeh.com/radius/rfc2865"
	"layeh.com/radius/rfc2869"

	"ridethrough/sim/internal/core/snap"
)

// longestPassword is what a User-Password holds (RFC 2865 section 5.2).
const longestPassword = 128

// askRADIUS makes the tries of one server. An error means that it is silent.
func (q *question) askRADIUS(ctx context.Context, server *snap.RADIUSServer, to string) (snap.Answer, snap.Role, error) {
	request, err := q.accessRequest(server)
	if err != nil {
		return snap.AnswerRejected, snap.NoRole, nil // no server could take such a password
	}
	err = errors.New("no answer")
	for range server.Tries {
		var answer *radius.Packet
		answer, err = exchange(ctx, request, server, to)
		if err == nil {
			return q.judge(answer)
		}
		if ctx.Err() != nil {
			return snap.AnswerSilent, snap.NoRole, ctx.Err()
		}
	}
	return snap.AnswerSilent, snap.NoRole, err
}

// accessRequest is the Access-Request (RFC 2865 section 4.1), with its
// Message-Authenticator before everything else, which is where a forger can do least.
func (q *question) accessRequest(server *snap.RADIUSServer) (*radius.Packet, error) {
	p := radius.New(radius.CodeAccessRequest, []byte(server.Secret.Reveal()))
	p.Add(rfc2869.MessageAuthenticator_Type, make([]byte, md5.Size))
	if len(q.password) > longestPassword {
		return nil, errors.New("too long")
	}
	err := errors.Join(
		rfc2865.UserName_SetString(p, q.user),
		rfc2865.UserPassword_SetString(p, q.password),
		rfc2865.NASIdentifier_SetString(p, clipped(q.card.Settings.Name, q.card.Identity.SerialNumber)),
		rfc2865.ServiceType_Set(p, rfc2865.ServiceType_Value_LoginUser),
	)
	if ip := q.card.Address.Prefix.Addr(); ip.Is4() {
		err = errors.Join(err, rfc2865.NASIPAddress_Set(p, net.IP(ip.AsSlice())))
	}
	if q.by.Peer != "" {
		err = errors.Join(err, rfc2865.CallingStationID_SetString(p, clipped(q.by.Peer, "")))
	}
	if err != nil {
		return nil, err
	}
	return p, sign(p, p.Authenticator[:])
}

// clipped is text as an attribute holds it, or instead where it is empty.
func clipped(text, instead string) string {
	if text == "" {
		text = instead
	}
	return text[:min(len(text), 253)]
}

// sign puts the Message-Authenticator in its place.
func sign(p *radius.Packet, authenticator []byte) error {
	mac, err := messageAuthenticator(p, authenticator)
	if err != nil {
		return err
	}
	p.Set(rfc2869.MessageAuthenticator_Type, mac)
	return nil
}

// messageAuthenticator is HMAC-MD5 over the message with that authenticator and
// zeros in place of what it makes (RFC 3579 section 3.2).
func messageAuthenticator(p *radius.Packet, authenticator []byte) ([]byte, error) {
	c := *p
	c.Attributes = nil
	for _, a := range p.Attributes {
		if a.Type == rfc2869.MessageAuthenticator_Type {
			a = &radius.AVP{Type: a.Type, Attribute: make([]byte, md5.Size)}
		}
		c.Attributes = append(c.Attributes, a)
	}
	copy(c.Authenticator[:], authenticator)
	wire, err := c.MarshalBinary()
	if err != nil {
		return nil, err
	}
	h := hmac.New(md5.New, p.Secret)
	h.Write(wire)
	return h.Sum(nil), nil
}

// exchange is one try. The library takes no answer that was not made with the secret.
func exchange(ctx context.Context, request *radius.Packet, server *snap.RADIUSServer, to string) (*radius.Packet, error) {
	ctx, cancel := context.WithTimeout(ctx, server.Timeout.Duration())
	defer cancel()
	client := radius.Client{Retry: 0}
	answer, err := client.Exchange(ctx, request, to)
	if errors.Is(err, context.DeadlineExceeded) {
		return nil, fmt.Errorf("no answer within %s that was made with the shared secret", server.Timeout.Duration())
	}
	if err != nil {
		<-ctx.Done() // a port that refuses is as good as silence, and no quicker
		return nil, fmt.Errorf("no answer: %w", plain(err))
	}
	return answer, authentic(answer, request, server)
}

// plain is err without addresses.
func plain(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}

// authentic looks at the Message-Authenticator of an answer.
func authentic(answer, request *radius.Packet, server *snap.RADIUSServer) error {
	got, ok := answer.Lookup(rfc2869.MessageAuthenticator_Type)
	if !ok && server.Authenticated {
		return errors.New("an answer without Message-Authenticator, which somebody between may have forged")
	}
	if !ok {
		return nil
	}
	want, err := messageAuthenticator(answer, request.Authenticator[:])
	if err != nil {
		return err
	}
	if !hmac.Equal(got, want) {
		return errors.New("an answer with a wrong Message-Authenticator")
	}
	return nil
}

// judge reads an answer. A challenge is a reject: there is nobody to put it to.
func (q *question) judge(answer *radius.Packet) (snap.Answer, snap.Role, error) {
	switch answer.Code {
	case radius.CodeAccessAccept:
		return snap.AnswerAccepted, q.role(q.roleIn(answer)), nil
	case radius.CodeAccessReject, radius.CodeAccessChallenge:
		return snap.AnswerRejected, snap.NoRole, nil
	}
	return snap.AnswerSilent, snap.NoRole, fmt.Errorf("an answer of code %d", answer.Code)
}

func (q *question) roleIn(answer *radius.Packet) snap.Role {
	if q.rules.RoleFrom == snap.ServiceType {
		switch rfc2865.ServiceType_Get(answer) {
		case rfc2865.ServiceType_Value_AdministrativeUser:
			return snap.Administrator
		case rfc2865.ServiceType_Value_NASPromptUser:
			return snap.Operator
		}
		return snap.NoRole
	}
	best := snap.NoRole
	words, _ := rfc2865.FilterID_GetStrings(answer)
	for _, word := range words {
		if r, ok := snap.RoleByName(word); ok {
			best = max(best, r)
		}
	}
	return best
}
