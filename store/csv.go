package store

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"setscrew/domain"
	"setscrew/domain/quantity"
)

// sheets are the CSV files that ExportCSV writes, each with its columns. Times are those of
// the shop's zone.
var sheets = map[string][]string{
	"machines": {"shop", "machine", "name", "kind", "units", "added", "retired"},
	"reports": {"shop", "no", "machine", "name", "what", "about", "happened", "recorded", "by", "for",
		"withdrawn by no", "note", "typed"},
	"readings": {"shop", "no", "machine", "name", "check", "position", "repeat", "value", "unit", "mode", "gauge",
		"happened", "by", "for", "believed", "withdrawn by no", "typed"},
	"inspections": {"shop", "no", "machine", "name", "check", "passed", "happened", "by", "for", "withdrawn by no",
		"note"},
	"hours": {"shop", "no", "machine", "name", "used (h)", "counter shows (h)", "happened", "by", "for",
		"withdrawn by no"},
	"services": {"shop", "no", "machine", "name", "what", "service or event", "happened", "by", "for",
		"withdrawn by no", "taken from the shelf", "pieces", "note"},
	"problems": {"shop", "no", "machine", "name", "problem", "danger", "happened", "by", "for", "withdrawn by no",
		"closed by no", "closed", "note"},
	"tags": {"shop", "no", "machine", "name", "reason", "paper tag", "happened", "by", "for", "lifted by no", "lifted"},
}

// number is a cell that is a number: it stays one, whatever its sign.
type number string

// whole is a whole number as a cell, "" for 0, which stands for none.
func whole(n int64) number {
	if n == 0 {
		return ""
	}
	return number(strconv.FormatInt(n, 10))
}

// decimal is an exact value as a cell, to nine decimals where it has no end.
func decimal(value *big.Rat) number {
	digits, exact := value.FloatPrec()
	if !exact || digits > 12 {
		return number(strings.TrimRight(value.FloatString(9), "0"))
	}
	return number(value.FloatString(digits))
}

// cell is what somebody wrote as a cell that no spreadsheet takes for a formula.
func cell(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r\n", rune(text[0])) {
		return "'" + text
	}
	return text
}

// person is who it was, as a cell. An account's number is told as one: a spreadsheet would
// round it.
func person(id domain.PersonID) string {
	switch {
	case id == "":
		return "Setscrew"
	case id.Former():
		_, code, _ := strings.Cut(string(id), "-")
		return domain.FormerMember + " (" + code + ")"
	case strings.Trim(string(id), "0123456789") == "":
		return "account " + string(id)
	}
	return cell(string(id))
}

// ExportCSV writes the books at a path, or one shop of them, into a new folder as files for
// people: RFC 4180, UTF-8, each with a line that names its columns. It is whole or not there.
func ExportCSV(ctx context.Context, path string, shop domain.ShopID, folder string) (done Exported, err error) {
	if folder, err = filepath.Abs(folder); err != nil {
		return done, fmt.Errorf("store: find the folder: %w", err)
	}
	if _, err := os.Stat(folder); !errors.Is(err, fs.ErrNotExist) {
		return done, fmt.Errorf("store: there is something at %s already, and it is left as it is; name a "+
			"new folder: %w", folder, errors.Join(fs.ErrExist, err))
	}
	db, _, remove, err := openCopy(ctx, path)
	if err != nil {
		return done, err
	}
	defer func() { err = errors.Join(err, remove()) }()
	if err := db.hasShop(ctx, shop); err != nil {
		return done, err
	}
	part := folder + ".part"
	if err := errors.Join(os.RemoveAll(part), os.MkdirAll(part, 0o700)); err != nil {
		return done, fmt.Errorf("store: make the folder: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(part))
		}
	}()
	book := &csvBook{folder: part, files: map[string]*csvFile{}}
	if err := book.begin(); err != nil {
		return done, errors.Join(err, book.close())
	}
	shops, err := db.shops(ctx)
	if err != nil {
		return done, errors.Join(err, book.close())
	}
	for _, id := range shops {
		if shop != "" && id != shop {
			continue
		}
		done.Shops++
		if err := db.read(ctx, id, func(t *tx) error { return t.csv(book, &done) }); err != nil {
			return done, errors.Join(err, book.close())
		}
	}
	if err := book.close(); err != nil {
		return done, err
	}
	if err := os.Rename(part, folder); err != nil {
		return done, fmt.Errorf("store: put the folder in its place: %w", err)
	}
	return done, nil
}

// csvBook is the files that are written.
type csvBook struct {
	folder string
	files  map[string]*csvFile
}

type csvFile struct {
	*csv.Writer
	file *os.File
}

// begin makes every file, with its first line.
func (b *csvBook) begin() error {
	for name, columns := range sheets { // any order: each is a file of its own
		file, err := os.OpenFile(filepath.Join(b.folder, name+".csv"), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return fmt.Errorf("store: make a CSV file: %w", err)
		}
		writer := csv.NewWriter(file)
		writer.UseCRLF = true
		b.files[name] = &csvFile{writer, file}
		if err := writer.Write(columns); err != nil {
			return fmt.Errorf("store: write %s.csv: %w", name, err)
		}
	}
	return nil
}

// write adds a line of cells: texts, numbers, times (absent for zero), and words for true
// and false.
func (b *csvBook) write(name string, cells ...any) error {
	line := make([]string, len(cells))
	for i, one := range cells {
		switch one := one.(type) {
		case number:
			line[i] = string(one)
		case string:
			line[i] = cell(one)
		case domain.PersonID:
			line[i] = person(one)
		case time.Time:
			if !one.IsZero() {
				line[i] = one.Format(time.RFC3339)
			}
		case bool:
			line[i] = map[bool]string{true: "yes", false: "no"}[one]
		default:
			return fmt.Errorf("store: a %T is no cell of %s.csv", one, name)
		}
	}
	if len(line) != len(sheets[name]) {
		return fmt.Errorf("store: %d cells for the %d columns of %s.csv", len(line), len(sheets[name]), name)
	}
	if err := b.files[name].Write(line); err != nil {
		return fmt.Errorf("store: write %s.csv: %w", name, err)
	}
	return nil
}

// close ends every file.
func (b *csvBook) close() error {
	var errs []error
	for _, file := range b.files { // any order: each is a file of its own
		file.Flush()
		errs = append(errs, file.Error(), file.file.Sync(), file.file.Close())
	}
	return errors.Join(errs...)
}

// csvShop is what the lines of a shop need.
type csvShop struct {
	shop     domain.Shop
	zone     *time.Location
	machines map[domain.MachineID]domain.Machine
}

// csv writes a shop.
func (t *tx) csv(book *csvBook, done *Exported) error {
	settings, err := t.settings()
	if err != nil {
		return err
	}
	of := csvShop{settings, settings.Location(), map[domain.MachineID]domain.Machine{}}
	var ids []domain.MachineID
	var id domain.MachineID
	if err := t.rows([]any{&id}, func() error { ids = append(ids, id); return nil },
		`SELECT machine_id FROM machine WHERE shop_id = ? ORDER BY machine_id`, t.shop); err != nil {
		return err
	}
	for _, id := range ids {
		machine, _, err := t.machine(id)
		if err != nil {
			return err
		}
		of.machines[id] = machine
		if err := book.write("machines", string(t.shop), whole(int64(id)), machine.Name, machine.Setup.Kind,
			machine.UnitsIn(settings).String(), of.at(machine.Added), of.at(machine.Retired)); err != nil {
			return err
		}
	}
	// Facts in the order in which they were recorded.
	var row factRow
	var typed string
	var believed bool
	var seconds int64
	var lifted, closed, liftedAt, closedAt *int64
	return t.rows(append(row.columns(), &believed, &seconds, &typed, &lifted, &liftedAt, &closed, &closedAt),
		func() error {
			fact, err := row.fact(t.shop)
			if err != nil {
				return err
			}
			done.Facts++
			return of.write(book, fact, csvMore{typed, believed, seconds, of.end(lifted, liftedAt),
				of.end(closed, closedAt)})
		}, `SELECT `+csvColumns+`, f.believed, f.seconds, coalesce(a.typed, ''), t.lifted_by, l.recorded, p.closed_by,
			c.recorded
		FROM fact f
		LEFT JOIN audit a ON a.shop_id = f.shop_id AND a.fact_no = f.no
		LEFT JOIN tag t ON t.shop_id = f.shop_id AND t.fact_no = f.no
		LEFT JOIN fact l ON l.shop_id = f.shop_id AND l.no = t.lifted_by
		LEFT JOIN problem p ON p.shop_id = f.shop_id AND p.fact_no = f.no
		LEFT JOIN fact c ON c.shop_id = f.shop_id AND c.no = p.closed_by
		WHERE f.shop_id = ? ORDER BY f.no`, t.shop)
}

// csvColumns are factColumns of the table that is called f.
var csvColumns = "f." + strings.ReplaceAll(factColumns, ", ", ", f.")

// csvMore is what a line tells beside the fact.
type csvMore struct {
	typed          string
	believed       bool
	seconds        int64
	lifted, closed csvEnd
}

// csvEnd is the report that ended something, and when; zero for none.
type csvEnd struct {
	no number
	at time.Time
}

func (s csvShop) end(no, at *int64) (end csvEnd) {
	if no != nil && at != nil && *no != 0 {
		end.no, end.at = whole(*no), s.at(moment(*at))
	}
	return end
}

// at is a moment in the shop's zone.
func (s csvShop) at(at time.Time) time.Time {
	if at.IsZero() {
		return at
	}
	return at.In(s.zone)
}

// write writes the lines of a fact.
func (s csvShop) write(book *csvBook, fact domain.Fact, more csvMore) error {
	machine := s.machines[fact.Machine]
	line := func(sheet string, cells ...any) error {
		return book.write(sheet, append([]any{string(fact.Shop), whole(int64(fact.No)), whole(int64(fact.Machine)),
			machine.Name}, cells...)...)
	}
	at, gone := s.at(fact.At), whole(int64(fact.Withdrawn))
	if err := line("reports", string(fact.Body.FactKind()), domain.Subject(fact.Body), at, s.at(fact.Recorded), fact.By,
		fact.For, gone, domain.Note(fact.Body), more.typed); err != nil {
		return err
	}
	seconds := func(n int64) number { return decimal(quantity.New(n, 1, quantity.Second).In(quantity.Hour)) }
	switch body := fact.Body.(type) {
	case domain.Reading:
		for _, position := range body.Values {
			for i, value := range position.Repeats {
				unit := unitOf(machine, s.shop, body.Check, value)
				if err := line("readings", body.Check, position.Position, whole(int64(i+1)), decimal(value.In(unit)),
					string(unit), body.Mode, body.Gauge.Name, at, fact.By, fact.For, more.believed, gone,
					body.Typed); err != nil {
					return err
				}
			}
		}
	case domain.Inspection:
		return line("inspections", body.Check, body.Pass, at, fact.By, fact.For, gone, body.Note)
	case domain.Hours:
		return line("hours", seconds(body.Seconds), number(""), at, fact.By, fact.For, gone)
	case domain.CounterRead:
		return line("hours", seconds(more.seconds), seconds(body.Seconds), at, fact.By, fact.For, gone)
	case domain.ServiceDone:
		return line("services", append([]any{"service", body.Service, at, fact.By, fact.For, gone},
			taken(body.Took, body.Note)...)...)
	case domain.EventSeen:
		return line("services", append([]any{"event", body.Event, at, fact.By, fact.For, gone},
			taken(body.Took, body.Note)...)...)
	case domain.Problem:
		return line("problems", body.Name, body.Danger, at, fact.By, fact.For, gone, more.closed.no, more.closed.at,
			body.Note)
	case domain.TagOut:
		reason := strings.TrimSpace(string(body.Reason.Code) + " " + body.Reason.Name)
		if body.Reason.Text != "" {
			reason += ": " + body.Reason.Text
		}
		return line("tags", reason, body.Paper, at, fact.By, fact.For, more.lifted.no, more.lifted.at)
	}
	return nil
}

// taken is what work took from the shelf, and its note, as cells.
func taken(took *domain.Took, note string) []any {
	if took == nil {
		return []any{"", number(""), note}
	}
	return []any{took.Name, whole(int64(took.N)), note}
}

// unitOf is the unit in which a check's values are entered in the machine's units, or the
// kind's own where its profile no longer says.
func unitOf(machine domain.Machine, shop domain.Shop, check string, value quantity.Value) quantity.Unit {
	if machine.Profile != nil {
		if found := machine.Profile.Check(check); found != nil {
			if unit := found.Entry[machine.UnitsIn(shop)]; unit.Kind() == value.Kind() {
				return unit
			}
		}
	}
	return quantity.Base(value.Kind())
}
