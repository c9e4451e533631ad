package scenario

// maxDevices bounds a fleet: each device takes a file descriptor and some memory.
const maxDevices = 50_000

type fleetTable struct {
	table
	Count     *int64           `key:"count" auto:"none; needed without scenarios" min:"1" max:"50000" doc:"How many sites of this file there are. Their devices are numbered from 1. Without it this file has none, and only those of scenarios are played."`
	Each      string           `key:"each" def:"address" one:"address|port" doc:"What tells the agents apart when they are served: an address each, consecutive ones of 127.0.0.0/8 with the same port, or a port each on one address."`
	Scenarios []fleetFileTable `key:"scenarios" max:"100" doc:"Further scenario files with sites of their own, which are numbered on from those of this file."`
}

type fleetFileTable struct {
	table
	File  string `key:"file" need:"yes" min:"1" max:"4096" doc:"Its path, from the folder of this file. Its own timeline, expectations and length of run apply to its sites; it has no fleet."`
	Count int64  `key:"count" need:"yes" min:"1" max:"50000" doc:"How many sites of it there are."`
}
