// Package budget does the sum of a shutdown: what the chain from the loss of the
// mains to the last stopped host takes, against what the battery gives meanwhile.
//
// The chain is that of the modelled policy: a poll has to see the outage, a trigger
// has to come true, further polls have to agree, and hosts stop before those that they
// need. Polls are taken at their worst: the loss comes just after one. The battery is
// walked through it with the model of package battery, under the load that falls as
// hosts stop, cells and controller's estimate both, so that a trigger by runtime or low
// battery comes when the unit would show it. Nothing here is a table: what is asked
// for, such as the latest moment to begin, is the root of that walk, found by halving.
//
// Left out, on the safe side: a generator, mains that come back, and the warmth of an
// outage. Left out and taken to work: the network between policy and card, and the
// card. The engine plays the same outage with all of that; the tests hold one against
// the other. Its steps lie otherwise, which moves what comes of it by milliseconds: the
// budget allows for that, so that what it lets pass works there too.
package budget
