// Package simtest gives a test a site of its own: a UPS, its network card and the
// machines behind it, in this process, behind real sockets on free loopback ports.
// It is to ridethrough what net/http/httptest is to net/http.
//
//	func TestManagerStopsTheDatabaseInTime(t *testing.T) {
//		t.Parallel()
//		site := simtest.Start(t, simtest.File("testdata/site.toml"))
//		manager := NewManager(site.SNMP, site.ReadCommunity) // the software under test
//		site.Inject(`source = "lost"`)
//		for range 60 {
//			site.Advance(10 * time.Second)
//			manager.Poll()
//		}
//		site.WaitFor("hosts.db.state == 'stopped'", 5*time.Minute)
//	}
//
// Simulated time belongs to the test: it stands until [Site.Advance] or
// [Site.WaitFor] moves it, as fast as it can, while the sockets stay open and the card
// answers. What has a clock of its own (a program that sleeps between two polls, a
// mail server) needs time that runs: [Running], [Site.Resume].
//
// When the test ends the site is closed, and judged as it stands: the expectations of
// its scenario that were missed, or that the test never came to, fail the test with a
// short timeline; see [Unjudged].
//
// The package does not import testing, so that a program that embeds it has none of
// testing's flags.
package simtest
