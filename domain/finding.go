package domain

// Look is one thing of which is said whether it is as it should be, where Setscrew is looked
// over. Its text is its name for the operator.
type Look string

// The looks: at what the chat lets Setscrew do, at its account there, and at the books' file.
const (
	LookChannel  Look = "channel"     // for notices: there is one
	LookPosting  Look = "posting"     // notices can be posted there, pinned and seen again
	LookRole     Look = "role"        // of the stewards: there is one, and somebody has it
	LookPings    Look = "pings"       // a mention of it calls them
	LookToken    Look = "token"       // the chat takes it
	LookCommands Look = "commands"    // the chat knows this version's
	LookClock    Look = "clock"       // this machine's goes with the chat's
	LookFile     Look = "file"        // the books' file is there and can be used
	LookSpace    Look = "space"       // on its disk
	LookAccess   Look = "permissions" // nobody else may read it, or write
	LookSchema   Look = "schema"      // its tables are those of its version
	LookPages    Look = "integrity"   // every page of it is sound
	LookDerived  Look = "derived"     // what follows from the reports is what they say
	LookCopies   Look = "backups"     // there is a fresh copy
)

// Looks lists all looks but LookDerived, which takes long, in the order in which they matter:
// first those without which nothing is recorded, then those without which nobody is told.
func Looks() []Look {
	return []Look{LookFile, LookPages, LookChannel, LookPosting, LookRole, LookPings, LookToken, LookCommands,
		LookClock, LookSpace, LookSchema, LookAccess, LookCopies}
}

// Finding is what one look found.
type Finding struct {
	Look Look
	Says string // what is, for the operator; "" where Err says what is not
	Err  error  // what is wrong and what to do about it, for the operator; nil where all is well
}
