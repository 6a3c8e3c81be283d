package commands

// Ail is something that whoever runs Setscrew has to see to, and that the stewards of
// every shop are told of meanwhile, so that somebody says so.
type Ail string

// What may ail the books. Each has its words in the catalogue.
const (
	AilCopy        Ail = "trouble.books.copy"        // the last copy of them is old
	AilFull        Ail = "trouble.books.full"        // the disk is nearly full
	AilUnreachable Ail = "trouble.books.unreachable" // they may not be written
	AilMoved       Ail = "trouble.books.moved"       // their file was moved or replaced
	AilDamaged     Ail = "trouble.books.damaged"     // their file is not sound
)
