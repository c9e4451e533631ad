package scenario

// accountTable is an account that the card comes with, beside the factory login.
type accountTable struct {
	table
	User     string  `key:"user" need:"yes" min:"1" max:"32" ascii:"yes" doc:"User name, unique on the card."`
	Role     string  `key:"role" def:"administrator" one:"viewer|operator|administrator" doc:"What it may do: read; act too; or set too, and manage accounts."`
	Password *string `key:"password" auto:"from seed, serial number and user; the ready record of serve tells it" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Its password. It is no secret: it stands in this file. Never put one that is used anywhere else."`
	SetDays  *int64  `key:"password_days" auto:"nobody knows: it counts from the start" min:"0" max:"3650" doc:"How many days before the start its password was set; see access.password-age in [settings.md](settings.md)."`
}
