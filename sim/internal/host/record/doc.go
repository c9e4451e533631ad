// Package record polls a real card by SNMP and listens for its notifications. It only
// ever asks: get, get-next and get-bulk. [Asker] has nothing else, and the socket
// refuses to send anything else that it can read.
//
// Polling is gosnmp's, which is a client. What comes unasked is decoded by face/ber:
// gosnmp's reader of notifications can be made to panic.
package record
