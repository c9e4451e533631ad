// Package backup writes the settings of a card as TOML and reads them back.
//
// The text holds every setting by its path, and the serial number of the card
// that it is of. It holds no secret: where one is set stands [Kept], which leaves
// the secret that the reading card has. The settings that belong to one card
// alone, such as its name and its address, are carried to no other one.
package backup
