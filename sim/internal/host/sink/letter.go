package sink

import (
	"encoding/base64"
	"errors"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"net/textproto"
	"strings"

	"github.com/emersion/go-smtp"

	"ridethrough/sim/internal/core/snap"
)

// deepest bounds how deep parts of a mail lie in each other, and most how many of them
// are looked at.
const (
	deepest   = 4
	mostParts = 16
)

// readMail is subject and text of a mail. What is no mail of RFC 5322 is text; the error
// is that of the connection.
func readMail(r io.Reader) (snap.Arrival, error) {
	all, err := io.ReadAll(r)
	if err != nil {
		if !errors.Is(err, smtp.ErrDataTooLarge) {
			return snap.Arrival{}, err
		}
		a := letterOf(string(all))
		return a, err
	}
	return letterOf(string(all)), nil
}

func letterOf(whole string) snap.Arrival {
	m, err := mail.ReadMessage(strings.NewReader(whole))
	if err != nil {
		return snap.Arrival{Text: cut(whole)}
	}
	var words mime.WordDecoder
	subject := m.Header.Get("Subject")
	if decoded, err := words.DecodeHeader(subject); err == nil {
		subject = decoded
	}
	return snap.Arrival{Subject: subject, Text: textOf(textproto.MIMEHeader(m.Header), m.Body, 0)}
}

func cut(text string) string {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	return text[:min(len(text), snap.MaxArrivalText)]
}

// textOf is the first plain text in a part, or else the part as it is.
func textOf(h textproto.MIMEHeader, body io.Reader, depth int) string {
	kind, params, err := mime.ParseMediaType(h.Get("Content-Type"))
	if err == nil && strings.HasPrefix(kind, "multipart/") && params["boundary"] != "" && depth < deepest {
		return firstText(multipart.NewReader(body, params["boundary"]), depth)
	}
	switch strings.ToLower(h.Get("Content-Transfer-Encoding")) {
	case "quoted-printable":
		body = quotedprintable.NewReader(body)
	case "base64":
		body = base64.NewDecoder(base64.StdEncoding, body)
	}
	text, _ := io.ReadAll(io.LimitReader(body, 2*snap.MaxArrivalText)) // what can be read of it
	return cut(string(text))
}

func firstText(parts *multipart.Reader, depth int) string {
	first := ""
	for range mostParts {
		p, err := parts.NextRawPart()
		if err != nil {
			break
		}
		kind, _, _ := mime.ParseMediaType(p.Header.Get("Content-Type"))
		text := textOf(p.Header, p, depth+1)
		if kind == "" || kind == "text/plain" || strings.HasPrefix(kind, "multipart/") && text != "" {
			return text
		}
		if first == "" {
			first = text
		}
	}
	return first
}
