// Package setting is the one table of what a technician can set on the card: for
// each setting its path, its words for people, what it accepts, and how it is
// read from and written to [snap.Settings]. The menu, the SSH commands and the
// export read it; nobody repeats it.
//
// A path is a group and a name, "reach.gateway", or a list, the name of one of
// its entries, and a name, "alerts.mail.desk.address". The groups follow the job.
package setting
