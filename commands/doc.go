// Package commands holds every slash command of Setscrew: its declaration
// beside its handler, the buttons and forms that follow, the sweep that a wake
// runs, and the words of replies and notices. It knows nothing of how a chat
// carries them.
//
// Its files lie in layers, from the ground up; a file names what is defined in
// itself or in a layer below, and a test holds that:
//
//   - what a chat hands in and gets back (request, reply, declare), what the books
//     are asked (books), plain texts (text), what is kept between calls (kept);
//   - what the chat is asked (chat); what books last said, for the time when they
//     cannot be read (lastknown), and the dangers that wait for them
//     (unbookedqueue); wording: language, shop and moment (wording), values in a
//     machine's units (format), names (find, names);
//   - a call on its way: who may (call), its buttons (action, again), examples
//     (example), what its options name (lookup);
//   - what keeps notices back (access), and dangers that the books cannot take
//     (unbooked); the desk, from a request to its answer (desk, refusal), and what
//     became of a report (report);
//   - what more than one command says: states, rules, gauges, work, plans, what is
//     due, causes, and the like;
//   - one file a command family, and what the desk does besides: completion,
//     notices, the sweep;
//   - the table, which binds each command and action to what answers it.
package commands
