// Package paper lays pages out for a printer, as PDF: A4, dark on white, in type
// that can be read on a wall.
package paper

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// Page is a page, or as many as it takes. Texts are plain.
type Page struct {
	Title  string
	Under  string   // a line below it
	Notes  []string // paragraphs
	Heads  []string // of a table's columns
	Shares []float64
	Rows   [][]string
	// Fill adds empty rows to the table until the first page is full, for a pen. A
	// page that is filled stays one page: notes that leave no room for Least rows are
	// an error.
	Fill  bool
	Least int
	After []string // paragraphs below the table; of a filled page they stand at its foot
	Made  time.Time
}

// Sizes in millimetres.
const (
	margin    = 15.0
	wide      = 210 - 2*margin
	high      = 297 - 2*margin
	lineHigh  = 4.6
	rowHigh   = 8.5
	penRow    = 9.5
	cellInset = 1.5
)

// PDF lays a page out.
func PDF(p Page) ([]byte, error) {
	f := fpdf.New("P", "mm", "A4", "")
	f.SetCatalogSort(true) // the same page, the same bytes
	f.SetCreationDate(p.Made)
	f.SetModificationDate(p.Made)
	f.SetTitle(p.Title, true)
	f.SetProducer("Setscrew", true)
	f.SetMargins(margin, margin, margin)
	f.SetAutoPageBreak(!p.Fill, margin)
	f.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	f.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	f.SetFillColor(235, 235, 235)
	f.SetCellMargin(1)
	f.AddPage()
	f.SetFont("sans", "B", 18)
	f.MultiCell(wide, 8, p.Title, "", "L", false)
	f.SetFont("sans", "", 10)
	paragraphs := func(all []string) {
		for _, n := range all {
			f.MultiCell(wide, lineHigh, n, "", "L", false)
			f.Ln(1)
		}
	}
	if p.Under != "" {
		paragraphs([]string{p.Under})
	}
	f.Ln(1)
	paragraphs(p.Notes)
	foot := 0.0
	for _, n := range p.After {
		foot += float64(len(f.SplitText(n, wide-2)))*lineHigh + 1
	}
	if len(p.Heads) > 0 {
		f.Ln(1)
		widths := make([]float64, len(p.Heads))
		sum := 0.0
		for _, s := range p.Shares {
			sum += s
		}
		for i := range widths {
			widths[i] = wide * p.Shares[i] / sum
		}
		f.SetCellMargin(cellInset)
		f.SetFont("sans", "B", 10)
		for i, h := range p.Heads {
			f.CellFormat(widths[i], 7, h, "1", 0, "L", true, 0, "")
		}
		f.Ln(-1)
		f.SetFont("sans", "", 10)
		for _, r := range p.Rows {
			tableRow(f, widths, r)
		}
		if p.Fill {
			n := int((margin + high - foot - f.GetY()) / penRow)
			if n < p.Least {
				return nil, fmt.Errorf("paper: %q leaves room for %d rows, fewer than %d", p.Title, n, p.Least)
			}
			for range n {
				for _, w := range widths {
					f.CellFormat(w, penRow, "", "1", 0, "L", false, 0, "")
				}
				f.Ln(-1)
			}
		}
	}
	f.SetFont("sans", "", 10)
	f.SetCellMargin(1)
	f.Ln(2)
	paragraphs(p.After)
	var b bytes.Buffer
	if err := f.Output(&b); err != nil {
		return nil, fmt.Errorf("write the page %q: %w", p.Title, err)
	}
	return b.Bytes(), nil
}

// tableRow prints one row, as high as its highest cell.
func tableRow(f *fpdf.Fpdf, widths []float64, cells []string) {
	most := 1
	for i, c := range cells {
		most = max(most, len(f.SplitText(c, widths[i]-2*cellInset)))
	}
	h := max(rowHigh, float64(most)*lineHigh+2)
	if f.GetY()+h > margin+high {
		f.AddPage()
	}
	x, y := f.GetXY()
	for i, c := range cells {
		f.Rect(x, y, widths[i], h, "D")
		f.SetXY(x, y+1)
		f.MultiCell(widths[i], lineHigh, c, "", "L", false)
		x += widths[i]
	}
	f.SetXY(margin, y+h)
}
