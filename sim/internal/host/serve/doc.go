// Package serve runs a scenario in real time behind real sockets: it binds
// every surface, says that it is ready, paces the engine and does what the
// engine asks of the world, until the run ends or is interrupted.
package serve
