package commands

import (
	"context"
	"time"

	"setscrew/domain"
)

// Books is what the commands need of one shop's store. Every method is about
// that shop alone. Methods that write do so in one immediate transaction.
type Books interface {
	// Shop is the shop with its settings; a shop never set up has the defaults
	// of domain.NewShop.
	Shop(ctx context.Context) (domain.Shop, error)
	// Machines lists the machines in use by name (without case), profiles
	// compiled.
	Machines(ctx context.Context) ([]domain.Machine, error)
	// Snapshot is what is known of one machine now.
	Snapshot(ctx context.Context, m domain.MachineID) (domain.Snapshot, error)
	// Gauges lists the shop's own gauges by name.
	Gauges(ctx context.Context) ([]domain.OwnGauge, error)
	// Shelf lists what is kept on the shop's shelf, by name.
	Shelf(ctx context.Context) ([]domain.Shelf, error)
	// Visits is the plan of visits that a steward took last; found is false if there
	// is none.
	Visits(ctx context.Context) (f domain.Fact, found bool, err error)
	// Settled counts how often each cause was behind a problem of a machine, among
	// those that were mended and did not come back.
	Settled(ctx context.Context, m domain.MachineID, key string) (domain.Counts, error)
	// Runs lists the times for which a machine ran that ended from one moment until
	// before another, in the order in which they ended.
	Runs(ctx context.Context, m domain.MachineID, from, until time.Time) ([]domain.Run, error)
	// Sessions counts the runs of each machine in use that ended from one moment until
	// before another.
	Sessions(ctx context.Context, from, until time.Time) (map[domain.MachineID]int, error)
	// Readings lists the last readings of a check that were taken at a moment or
	// later, oldest first, with the hours of use since the first of them, and the
	// hours of use since then until now.
	Readings(ctx context.Context, m domain.MachineID, check string, since time.Time) (all []domain.ReadAt,
		now float64, err error)
	// Fact finds a fact by its number; *domain.Refusal with NoSuchFact if there
	// is none.
	Fact(ctx context.Context, no domain.FactNo) (domain.Fact, error)
	// LastBy is the last report that p typed which could be withdrawn and is
	// not, or *domain.Refusal with NothingToUndo.
	LastBy(ctx context.Context, p domain.PersonID) (domain.Fact, error)

	// Logbook lists what was reported of a machine before a report, newest first,
	// at most limit; before 0 begins with the newest.
	Logbook(ctx context.Context, m domain.MachineID, before domain.FactNo, limit int) ([]domain.Fact, error)

	// Study lists the readings of a gauge study, in the order in which they were
	// taken.
	Study(ctx context.Context, no domain.FactNo) ([]domain.Fact, error)

	// Recent lists what p last reported of machines, newest first, at most
	// limit.
	Recent(ctx context.Context, p domain.PersonID, limit int) ([]domain.Fact, error)

	// Report applies an entry in one transaction: it consumes the pending
	// button, reads the machine's snapshot, asks domain.Admit (and refuses a
	// Mistake where a person reported anything of the machine since), writes the fact
	// and what domain.ShowsCare concludes from it, its audit row and every derived row,
	// asks domain.Assess, hangs the tags
	// that it demands, and puts what domain.Owed lists into the outbox. The
	// same Key a second time does nothing and says Repeated. A *domain.Refusal
	// means that nothing was stored.
	Report(ctx context.Context, e domain.Entry) (domain.Outcome, error)

	// ReportAll applies entries one after another in one transaction, all or none,
	// and says what came of each. A trial writes nothing and says what would come of
	// them.
	ReportAll(ctx context.Context, all []domain.Entry, trial bool) ([]domain.Outcome, error)

	// KeepProfile stores a profile's text by its content hash, which it
	// returns. Storing the same text again does nothing.
	KeepProfile(ctx context.Context, kind string, text []byte) (hash string, err error)
	// Keep stores what waits behind buttons and forms.
	Keep(ctx context.Context, p ...domain.Pending) error
	// Pending finds one by id; *domain.Refusal with PendingGone (unknown, or
	// expired at now) or PendingUsed.
	Pending(ctx context.Context, id string, now time.Time) (domain.Pending, error)
	// Use consumes a pending that no entry consumes, by the interaction's key.
	// The same key a second time is no error.
	Use(ctx context.Context, id, key string, now time.Time) error

	// Forgettable says what would be taken out of the books about a person, and what would
	// stay for now.
	Forgettable(ctx context.Context, p domain.PersonID, now time.Time) (domain.Forgetting, error)
	// Forget puts an id that stands for a former member, always the same for one person, in
	// place of a person's in all that was recorded until now, but for what domain.Kept
	// names, and consumes a pending by the interaction's key. Where by, who asked for it, is
	// somebody else, that is noted.
	Forget(ctx context.Context, p, by domain.PersonID, pending, key string, now time.Time) (domain.Forgetting, error)

	// Told is what a person was told last of what notices and books lack; "" for nothing.
	Told(ctx context.Context, p domain.PersonID) (what string, err error)
	// NoteTold notes it.
	NoteTold(ctx context.Context, p domain.PersonID, what string, now time.Time) error

	// Stewards lists who was seen acting as a steward by a role, the latest first, at
	// most twenty.
	Stewards(ctx context.Context, role string) ([]domain.PersonID, error)
	// NoteSteward notes that p acts as a steward by a role at now; role "" says that p
	// is no steward any more. Beyond twenty those who acted longest ago are forgotten.
	NoteSteward(ctx context.Context, p domain.PersonID, role string, now time.Time) error
}

// Wakes is what the sweep needs of a store: all shops together.
type Wakes interface {
	// Due lists machines whose stored wake time is not after now, earliest
	// first, at most limit.
	Due(ctx context.Context, now time.Time, limit int) ([]domain.Wake, error)
	// Settle judges one machine again in one immediate transaction, hangs the
	// tags that are demanded, owes the notices, and stores its next wake time.
	Settle(ctx context.Context, shop domain.ShopID, m domain.MachineID, now time.Time) (domain.Status, error)
	// GoOnForgetting takes out of the books what stayed under the names of people who are
	// to be forgotten, where nothing needs it any more.
	GoOnForgetting(ctx context.Context, now time.Time) error
	// DueDigests lists the shops whose daily digest has fallen due.
	DueDigests(ctx context.Context, now time.Time) ([]domain.ShopID, error)
	// SettleDigest owes one shop's digest, if there is something to say, and
	// stores when the next falls due.
	SettleDigest(ctx context.Context, shop domain.ShopID, now time.Time) error
}
