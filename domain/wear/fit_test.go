package wear_test

import (
	"bufio"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	. "setscrew/domain/wear"
	"setscrew/testdata"
)

func number(t testing.TB, text string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// digits is to how many significant digits a value agrees.
func digits(got, want float64) float64 {
	if got == want {
		return 16
	}
	return -math.Log10(math.Abs(got-want) / math.Abs(want))
}

// coefficient reads "b2" or "se2" of a fit; ok is false for anything else.
func coefficient(fit Fit, name string) (v float64, ok bool) {
	for prefix, all := range map[string][]float64{"b": fit.Coef, "se": fit.SE} {
		if n, err := strconv.Atoi(strings.TrimPrefix(name, prefix)); err == nil && strings.HasPrefix(name, prefix) &&
			n < len(all) {
			return all[n], true
		}
	}
	switch name {
	case "s":
		return fit.S, true
	case "r2":
		return fit.R2, true
	case "rss":
		return fit.RSS, true
	}
	return 0, false
}

func must(t testing.TB, fit Fit, err error) Fit {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return fit
}

// mean is the fit of nothing but a constant: its coefficient is the values' mean, S
// their standard deviation.
func mean(t *testing.T, values []float64) Fit {
	t.Helper()
	rows := make([][]float64, len(values))
	for i := range rows {
		rows[i] = []float64{1}
	}
	f, err := LeastSquares(rows, values, nil)
	return must(t, f, err)
}

// autocorrelation is the slope, through nothing, of the values that come lag places
// later against the values, both from the mean; past the last come zeros.
func autocorrelation(t *testing.T, values []float64, lag int) float64 {
	t.Helper()
	average := mean(t, values).Coef[0]
	var rows [][]float64
	for _, v := range values {
		rows = append(rows, []float64{v - average})
	}
	later := make([]float64, len(values))
	for i := lag; i < len(values); i++ {
		later[i-lag] = values[i] - average
	}
	f, err := LeastSquares(rows, later, nil)
	return must(t, f, err).Coef[0]
}

// sets fits the sets of the StRD; those of groups as if all were alike, and with a
// level of its own for each.
func sets(t *testing.T) (fits map[string]Fit, values map[string][]float64, groups map[string][]Fit) {
	t.Helper()
	fits, values, groups = map[string]Fit{}, map[string][]float64{}, map[string][]Fit{}
	var x, ys []float64
	for _, r := range testdata.Published(t, "strd_norris.csv") {
		x, ys = append(x, number(t, r["x"])), append(ys, number(t, r["y"]))
	}
	fit, err := Line(x, ys, nil)
	fits["norris"] = must(t, fit, err)
	var rows [][]float64
	ys = nil
	for _, row := range testdata.Published(t, "strd_longley.csv") {
		xs := []float64{1}
		for i := 1; i <= 6; i++ {
			xs = append(xs, number(t, row["x"+strconv.Itoa(i)]))
		}
		rows, ys = append(rows, xs), append(ys, number(t, row["y"]))
	}
	fit, err = LeastSquares(rows, ys, nil)
	fits["longley"] = must(t, fit, err)
	small := map[string][2][]float64{}
	for _, r := range testdata.Published(t, "strd_small.csv") {
		s := small[r["set"]]
		small[r["set"]] = [2][]float64{append(s[0], number(t, r["x"])), append(s[1], number(t, r["y"]))}
	}
	for name, set := range small {
		if strings.HasPrefix(name, "NoInt") {
			var rows [][]float64
			for _, v := range set[0] {
				rows = append(rows, []float64{v})
			}
			fit, err = LeastSquares(rows, set[1], nil)
		} else {
			fit, err = Polynomial(set[0], set[1], 5)
		}
		fits[name] = must(t, fit, err)
	}
	for _, r := range testdata.Published(t, "strd_univariate.csv") {
		for _, v := range strings.Fields(r["values"]) {
			values[r["set"]] = append(values[r["set"]], number(t, v))
		}
	}
	values["NumAcc1"] = []float64{10000001, 10000003, 10000002}
	for name, v := range map[string][3]float64{"NumAcc2": {1.2, 1.1, 1.3},
		"NumAcc3": {1000000.2, 1000000.1, 1000000.3}, "NumAcc4": {10000000.2, 10000000.1, 10000000.3}} {
		values[name] = []float64{v[0]}
		for range 500 {
			values[name] = append(values[name], v[1], v[2])
		}
	}
	for name, file := range map[string]string{"sirstv": "strd_sirstv.csv", "atmwtag": "strd_atmwtag.csv"} {
		by := map[string][]float64{}
		var order []string
		for _, r := range testdata.Published(t, file) {
			if by[r["group"]] == nil {
				order = append(order, r["group"])
			}
			by[r["group"]] = append(by[r["group"]], number(t, r["y"]))
		}
		var alike, apart [][]float64
		var all []float64
		for i, g := range order {
			for _, v := range by[g] {
				row := make([]float64, len(order))
				row[0], row[i] = 1, 1
				alike, apart, all = append(alike, row[:1]), append(apart, row), append(all, v)
			}
		}
		for _, rows := range [][][]float64{alike, apart} {
			f, err := LeastSquares(rows, all, nil)
			groups[name] = append(groups[name], must(t, f, err))
		}
	}
	return fits, values, groups
}

func TestPublishedStRD(t *testing.T) {
	fits, values, groups := sets(t)
	if len(values["Lew"]) != 200 || len(values["PiDigits"]) != 5000 {
		t.Fatalf("Lew has %d values, PiDigits %d", len(values["Lew"]), len(values["PiDigits"]))
	}
	for _, row := range testdata.Published(t, "strd_certified.csv") {
		t.Run(row["id"], func(t *testing.T) {
			var got float64
			name := row["quantity"]
			if f, ok := fits[row["set"]]; ok {
				v, known := coefficient(f, name)
				if !known {
					t.Fatalf("no %s", name)
				}
				got = v
			} else if value, ok := values[row["set"]]; ok {
				fit := mean(t, value)
				switch name {
				case "mean":
					got = fit.Coef[0]
				case "sd":
					got = fit.S
				default:
					got = autocorrelation(t, value, int(number(t, strings.TrimPrefix(name, "lag"))))
				}
			} else if g, ok := groups[row["set"]]; ok {
				between, within := g[0].RSS-g[1].RSS, g[1].RSS
				ratio := between / float64(g[0].DoF-g[1].DoF) / (within / float64(g[1].DoF))
				got = map[string]float64{"ssb": between, "ssw": within, "f": ratio, "r2": g[1].R2, "s": g[1].S}[name]
			} else {
				t.Fatalf("no set %s", row["set"])
			}
			want, least := number(t, row["certified"]), number(t, row["digits"])
			if strings.HasPrefix(row["id"], "R15") {
				if math.Abs(got-want) > 0.005 {
					t.Errorf("%v, want %v", got, want)
				}
				return
			}
			if d := digits(got, want); d < least {
				t.Errorf("%.15g, certified %.15g: %.1f digits, want %v", got, want, d, least)
			}
		})
	}
}

func TestPublishedCalibrationLines(t *testing.T) {
	data := map[string][2][]float64{}
	for _, r := range testdata.Published(t, "regression_lines.csv") {
		s := data[r["set"]]
		data[r["set"]] = [2][]float64{append(s[0], number(t, r["x"])), append(s[1], number(t, r["y"]))}
	}
	fits := map[string]Fit{}
	for name, data2 := range data {
		fit, err := Line(data2[0], data2[1], nil)
		if name == "ISO28037" {
			rows := make([][]float64, len(data2[0]))
			u := make([]float64, len(data2[0]))
			for i, x := range data2[0] {
				rows[i], u[i] = []float64{1, x}, 0.5
			}
			fit, err = LeastSquaresKnown(rows, data2[1], u)
		}
		fits[name] = must(t, fit, err)
	}
	for _, row := range testdata.Published(t, "regression_results.csv") {
		t.Run(row["id"], func(t *testing.T) {
			fit := fits[row["set"]]
			got, ok := coefficient(fit, row["quantity"])
			inverse := map[string]struct {
				y, u float64
				m    int
			}{"ISO28037": {10.5, 0.5, 1}, "A5": {(0.0712 + 0.0716) / 2, fit.S, 2}}[row["set"]]
			switch row["quantity"] {
			case "corr":
				got, ok = fit.Cov[0][1]/(fit.SE[0]*fit.SE[1]), true
			case "cov":
				got, ok = fit.Cov[0][1], true
			case "at10":
				got, _ = fit.At([]float64{1, 10})
				ok = true
			case "se10":
				_, got = fit.At([]float64{1, 10})
				ok = true
			case "inverse":
				got, _ = fit.Inverse(inverse.y, inverse.m, inverse.u)
				ok = true
			case "uinverse":
				_, got = fit.Inverse(inverse.y, inverse.m, inverse.u)
				ok = true
			}
			if want := number(t, row["expected"]); !ok || math.Abs(got-want) > number(t, row["within"]) {
				t.Errorf("%s: %.8g, want %s ± %s", row["quantity"], got, row["expected"], row["within"])
			}
		})
	}
}

// columns reads the numbers of a data file of the handbook, which lie beside the
// project.
func columns(t *testing.T, name string) [][]float64 {
	t.Helper()
	file, err := os.Open(filepath.Join("..", "..", "..", "shared", "checks", "data", "shared-only", name+".DAT"))
	if errors.Is(err, os.ErrNotExist) {
		t.Skipf("%s.DAT does not lie beside the project", name)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	var rows [][]float64
	s := bufio.NewScanner(file)
	for line := 0; s.Scan(); line++ {
		var row []float64
		for _, w := range strings.Fields(s.Text()) {
			value, err := strconv.ParseFloat(w, 64)
			if err != nil {
				row = nil
				break
			}
			row = append(row, value)
		}
		if line >= 19 && len(row) > 0 {
			rows = append(rows, row)
		}
	}
	return rows
}

func TestPublishedHandbook(t *testing.T) {
	for _, row := range testdata.Published(t, "regression_handbook.csv") {
		t.Run(row["id"], func(t *testing.T) {
			var xs, ys []float64
			for _, fields := range columns(t, row["file"]) {
				switch row["file"] {
				case "MODEL-4_4_4":
					xs, ys = append(xs, fields[3]), append(ys, fields[4])
				case "ZARR13":
					ys = append(ys, fields[0])
				default:
					xs, ys = append(xs, fields[0]), append(ys, fields[1])
				}
			}
			var got float64
			if row["file"] == "ZARR13" {
				f := mean(t, ys)
				low, high := f.Interval(f.Coef[0], f.SE[0], 0.95)
				got = map[string]float64{"mean": f.Coef[0], "sd": f.S, "low": low, "high": high}[row["quantity"]]
			} else {
				degree := 1
				if row["file"] == "LOADCELL" {
					degree = 2
				}
				curve, err := Polynomial(xs, ys, degree)
				must(t, curve, err)
				v, ok := coefficient(curve, row["quantity"])
				got = v
				if !ok {
					quantity := strings.TrimRight(row["quantity"], "0123456789")
					at := []float64{1, number(t, strings.TrimPrefix(row["quantity"], quantity))}
					fit, se := curve.At(at)
					sp := math.Hypot(curve.S, se) // of one new value
					low, high := curve.Interval(fit, sp, 0.95)
					got = map[string]float64{"at": fit, "se": se, "sp": sp, "pilow": low, "pihigh": high}[quantity]
				}
			}
			if want := number(t, row["expected"]); math.Abs(got-want) > number(t, row["within"]) {
				t.Errorf("%s: %.10g, want %s", row["quantity"], got, row["expected"])
			}
		})
	}
}

func TestFitsThatCannotBeMade(t *testing.T) {
	if _, err := Line(nil, nil, nil); !errors.Is(err, ErrFew) {
		t.Errorf("no points: %v", err)
	}
	if _, err := Line([]float64{1, 2}, []float64{1, 2}, nil); !errors.Is(err, ErrFew) {
		t.Errorf("two points: %v", err)
	}
	if _, err := Line([]float64{1, 2, 3}, []float64{1, 2, 3}, []float64{1}); !errors.Is(err, ErrFew) {
		t.Errorf("one weight: %v", err)
	}
	if _, err := Line([]float64{3, 3, 3}, []float64{1, 2, 3}, nil); !errors.Is(err, ErrSingular) {
		t.Errorf("one place: %v", err)
	}
	f, err := LeastSquaresKnown([][]float64{{1, 1}, {1, 2}}, []float64{1, 2}, []float64{0.1, 0.1})
	if err != nil || math.Abs(f.Coef[1]-1) > 1e-15 || f.DoF != 0 {
		t.Errorf("two points of known uncertainty: %+v, %v", f, err)
	}
	if low, high := f.Interval(0, 1, 0.95); math.Abs(high-1.959964) > 1e-6 || low != -high {
		t.Errorf("a known uncertainty's interval: %v, %v", low, high)
	}
}

// A fit of points on a line is that line; weights change nothing there; and the
// residuals of any fit are at right angles to its columns.
func TestFitProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 20).Draw(t, "n")
		intercept, rise := rapid.Float64Range(-100, 100).Draw(t, "a"), rapid.Float64Range(-100, 100).Draw(t, "b")
		var xs, on, off, weights []float64
		for i := range n {
			xs = append(xs, float64(i)+rapid.Float64Range(0, 0.9).Draw(t, "x"))
			on = append(on, intercept+rise*xs[i])
			off = append(off, rapid.Float64Range(-10, 10).Draw(t, "y"))
			weights = append(weights, rapid.Float64Range(0.1, 10).Draw(t, "w"))
		}
		f, err := Line(xs, on, weights)
		if err != nil || math.Abs(f.Coef[0]-intercept) > 1e-9 || math.Abs(f.Coef[1]-rise) > 1e-9 || f.S > 1e-9 {
			t.Fatalf("a line of %v + %v x: %+v, %v", intercept, rise, f, err)
		}
		fit, err := Line(xs, off, weights)
		if err != nil {
			t.Fatal(err)
		}
		var flat, slope float64
		for i := range xs {
			r := weights[i] * (off[i] - fit.Coef[0] - fit.Coef[1]*xs[i])
			flat, slope = flat+r, slope+r*xs[i]
		}
		if math.Abs(flat) > 1e-8 || math.Abs(slope) > 1e-7 {
			t.Fatalf("residuals lean: %v, %v", flat, slope)
		}
	})
}
