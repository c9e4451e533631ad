// Package trust says which certificates of servers the card takes, by its settings.
package trust
