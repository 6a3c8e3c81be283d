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
func PDF(page Page) ([]byte, error) {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCatalogSort(true) // the same page, the same bytes
	pdf.SetCreationDate(page.Made)
	pdf.SetModificationDate(page.Made)
	pdf.SetTitle(page.Title, true)
	pdf.SetProducer("Setscrew", true)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(!page.Fill, margin)
	pdf.AddUTF8FontFromBytes("sans", "", liberationsansregular.TTF)
	pdf.AddUTF8FontFromBytes("sans", "B", liberationsansbold.TTF)
	pdf.SetFillColor(235, 235, 235)
	pdf.SetCellMargin(1)
	// The title, what stands under it, and the notes.
	pdf.AddPage()
	pdf.SetFont("sans", "B", 18)
	pdf.MultiCell(wide, 8, page.Title, "", "L", false)
	pdf.SetFont("sans", "", 10)
	paragraphs := func(all []string) {
		for _, n := range all {
			pdf.MultiCell(wide, lineHigh, n, "", "L", false)
			pdf.Ln(1)
		}
	}
	if page.Under != "" {
		paragraphs([]string{page.Under})
	}
	pdf.Ln(1)
	paragraphs(page.Notes)
	// How high what stands below the table will be.
	foot := 0.0
	for _, n := range page.After {
		foot += float64(len(pdf.SplitText(n, wide-2)))*lineHigh + 1
	}
	// The table, with empty lines for a pen down to there.
	if len(page.Heads) > 0 {
		pdf.Ln(1)
		widths := make([]float64, len(page.Heads))
		sum := 0.0
		for _, s := range page.Shares {
			sum += s
		}
		for i := range widths {
			widths[i] = wide * page.Shares[i] / sum
		}
		pdf.SetCellMargin(cellInset)
		pdf.SetFont("sans", "B", 10)
		for i, h := range page.Heads {
			pdf.CellFormat(widths[i], 7, h, "1", 0, "L", true, 0, "")
		}
		pdf.Ln(-1)
		pdf.SetFont("sans", "", 10)
		for _, r := range page.Rows {
			tableRow(pdf, widths, r)
		}
		if page.Fill {
			n := int((margin + high - foot - pdf.GetY()) / penRow)
			if n < page.Least {
				return nil, fmt.Errorf("the page %q leaves room for %d rows, fewer than %d", page.Title, n, page.Least)
			}
			for range n {
				for _, w := range widths {
					pdf.CellFormat(w, penRow, "", "1", 0, "L", false, 0, "")
				}
				pdf.Ln(-1)
			}
		}
	}
	// What stands below it.
	pdf.SetFont("sans", "", 10)
	pdf.SetCellMargin(1)
	pdf.Ln(2)
	paragraphs(page.After)
	var b bytes.Buffer
	if err := pdf.Output(&b); err != nil {
		return nil, fmt.Errorf("write the page %q: %w", page.Title, err)
	}
	return b.Bytes(), nil
}

// tableRow prints one row, as high as its highest cell.
func tableRow(pdf *fpdf.Fpdf, widths []float64, cells []string) {
	most := 1
	for i, c := range cells {
		most = max(most, len(pdf.SplitText(c, widths[i]-2*cellInset)))
	}
	tall := max(rowHigh, float64(most)*lineHigh+2)
	if pdf.GetY()+tall > margin+high {
		pdf.AddPage()
	}
	x, top := pdf.GetXY()
	for i, c := range cells {
		pdf.Rect(x, top, widths[i], tall, "D")
		pdf.SetXY(x, top+1)
		pdf.MultiCell(widths[i], lineHigh, c, "", "L", false)
		x += widths[i]
	}
	pdf.SetXY(margin, top+tall)
}
