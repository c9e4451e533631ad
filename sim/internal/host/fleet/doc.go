// Package fleet runs thousands of devices in real time: a few shards, each one
// goroutine that owns the engines and the sockets of its devices. It steps the
// engine that is due next, answers the requests that came in meanwhile, and
// sleeps. Nothing of a device is published and nothing locked: a reply is made
// from the engine itself, in a scratch that all devices of a shard share, and what
// only some devices need (an agent, informs under way) is made when they first
// need it.
package fleet
