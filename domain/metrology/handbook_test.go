package metrology_test

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	. "setscrew/domain/metrology"
	"setscrew/testdata"
)

// The handbook's check standards: six readings a day, on six days a run.
func TestPublishedPooling(t *testing.T) {
	for _, row := range testdata.Published(t, "metrology_handbook.csv") {
		t.Run(row["id"], func(t *testing.T) {
			text, err := os.ReadFile(
				filepath.Join("..", "..", "..", "shared", "checks", "data", "shared-only", row["file"]+".DAT"),
			)
			if errors.Is(err, os.ErrNotExist) {
				t.Skipf("%s.DAT does not lie beside the project", row["file"])
			}
			if err != nil {
				t.Fatal(err)
			}
			var deviations, averages []float64
			groups := map[string][]float64{} // day averages by run and wafer
			for _, line := range strings.Split(string(text), "\n") {
				columns := strings.Fields(line)
				if len(columns) < 9 {
					continue
				}
				run, err1 := strconv.ParseFloat(columns[0], 64)
				average, err2 := strconv.ParseFloat(columns[7], 64)
				sd, err3 := strconv.ParseFloat(columns[8], 64)
				if err := errors.Join(err1, err2, err3); err != nil || strings.TrimSuffix(columns[2], ".") != "2362" ||
					row["run"] != "" && run != number(t, row["run"]) {
					continue
				}
				deviations, averages = append(deviations, sd), append(averages, average)
				groups[columns[0]+columns[1]] = append(groups[columns[0]+columns[1]], average)
			}
			if len(deviations) != map[string]int{"MPC441": 6, "MPC61": 60}[row["file"]] {
				t.Fatalf("%d rows", len(deviations))
			}
			var got float64
			switch row["quantity"] {
			case "s1":
				got = pooled(deviations)
			case "mean":
				got = Describe(averages, 0).Mean
			case "s2":
				var between []float64
				for run, g := range groups {
					if len(g) != 6 {
						t.Fatalf("%s has %d days", run, len(g))
					}
					between = append(between, Describe(g, 0).S)
				}
				got = pooled(between)
			}
			if want := number(t, row["expected"]); math.Abs(got-want) > number(t, row["within"]) {
				t.Errorf("%s: %.9g, want %s", row["quantity"], got, row["expected"])
			}
		})
	}
}
