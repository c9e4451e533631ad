// Package mail brings the card's mails to a real relay over SMTP, and says in the
// card's words what became of them.
package mail
