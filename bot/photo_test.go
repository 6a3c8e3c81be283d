package bot

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"
)

// served answers every request with a status, headers and a body, and counts them.
type served struct {
	status int
	header http.Header
	body   io.Reader
	asked  int
	err    error
}

func (s *served) RoundTrip(request *http.Request) (*http.Response, error) {
	s.asked++
	if s.err != nil {
		return nil, s.err
	}
	return &http.Response{StatusCode: s.status, Header: s.header, Body: io.NopCloser(s.body), Request: request}, nil
}

const photoAddress = "https://cdn.discordapp.com/ephemeral-attachments/1/2/feed.jpg?hm=secret"

func fetched(s *served, address string) ([]byte, error) {
	return fetchPhoto(context.Background(), &http.Client{Transport: s}, address)
}

// shaded is a small picture whose pixels differ.
func shaded(width, height int) image.Image {
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			picture.SetRGBA(x, y, color.RGBA{uint8(x), uint8(y), 90, 255})
		}
	}
	return picture
}

func jpegOf(t *testing.T, picture image.Image, quality int) []byte {
	t.Helper()
	var text bytes.Buffer
	if err := jpeg.Encode(&text, picture, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return text.Bytes()
}

// A photo comes without what its file said of place and device, as a JPEG.
func TestPhotoIsEncodedAgain(t *testing.T) {
	t.Parallel()
	plain := jpegOf(t, shaded(64, 48), 90)
	said := "Exif\x00\x00 made at 52.5 N 13.4 E"
	segment := append([]byte{0xff, 0xe1, 0, byte(len(said) + 2)}, said...)
	file := append(append(append([]byte{}, plain[:2]...), segment...), plain[2:]...)
	var drawn bytes.Buffer
	if err := png.Encode(&drawn, shaded(64, 48)); err != nil {
		t.Fatal(err)
	}
	for name, file := range map[string][]byte{"jpeg": file, "png": drawn.Bytes()} { // any order: each by itself
		got, err := fetched(&served{status: http.StatusOK, body: bytes.NewReader(file)}, photoAddress)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if bytes.Contains(got, []byte("Exif")) || bytes.Contains(got, []byte("52.5 N")) {
			t.Errorf("%s keeps what was beside the picture", name)
		}
		picture, err := jpeg.Decode(bytes.NewReader(got))
		if err != nil || picture.Bounds().Dx() != 64 || picture.Bounds().Dy() != 48 {
			t.Errorf("%s: %v, %v", name, picture.Bounds(), err)
		}
	}
}

// Only Discord's own hosts are asked, spelt exactly, and nothing that they point to.
func TestPhotoHosts(t *testing.T) {
	t.Parallel()
	for _, address := range []string{"", "x", "http://cdn.discordapp.com/a.jpg",
		"https://cdn.discordapp.com:8080/a.jpg",
		"https://cdn.discordapp.com.example.org/a.jpg", "https://example.org/cdn.discordapp.com/a.jpg",
		"https://ada@cdn.discordapp.com/a.jpg", "https://cdn.discordapp.com@example.org/a.jpg",
		"https://discordapp.com/a.jpg", "https://127.0.0.1/a.jpg", "file:///etc/passwd",
		"https://CDN.discordapp.com./a.jpg", "https://x.media.discordapp.net/a.jpg"} {
		s := &served{status: http.StatusOK, body: strings.NewReader("")}
		if _, err := fetched(s, address); !errors.Is(err, errPhoto) || s.asked != 0 {
			t.Errorf("%s: asked %d times, %v", address, s.asked, err)
		}
	}
	moved := &served{status: http.StatusFound, body: strings.NewReader(""),
		header: http.Header{"Location": {"https://media.discordapp.net/other.jpg"}}}
	if _, err := fetched(moved, photoAddress); !errors.Is(err, errPhoto) || moved.asked != 1 {
		t.Errorf("a redirect: asked %d times, %v", moved.asked, err)
	}
	other := &served{status: http.StatusOK, body: bytes.NewReader(jpegOf(t, shaded(8, 8), 90))}
	if _, err := fetched(other, "https://media.discordapp.net/attachments/1/2/a.jpg"); err != nil {
		t.Errorf("the other host: %v", err)
	}
}

// What is too large is not read to its end, nor decoded; what is no picture is not
// taken. No error names the address, and those that may pass say so.
func TestPhotoBounds(t *testing.T) {
	t.Parallel()
	endless := &served{status: http.StatusOK, body: io.LimitReader(zeros{}, 1<<40),
		header: http.Header{"Content-Length": {"10"}}}
	huge := &served{status: http.StatusOK, body: bytes.NewReader(claims(t, 60_000, 60_000))}
	for _, test := range []struct {
		name  string
		from  *served
		final bool
	}{
		{"an endless file", endless, true},
		{"gigabytes of pixels", huge, true},
		{"no picture", &served{status: http.StatusOK, body: strings.NewReader("<svg/>")}, true},
		{"half a picture", &served{status: http.StatusOK, body: bytes.NewReader(claims(t, 8, 8))}, true},
		{"a link that died", &served{status: http.StatusNotFound, body: strings.NewReader("")}, true},
		{"a fault there", &served{status: http.StatusBadGateway, body: strings.NewReader("")}, false},
		{"cut off", &served{err: io.ErrUnexpectedEOF}, false},
	} {
		got, err := fetched(test.from, photoAddress)
		if err == nil || got != nil || errors.Is(err, errPhoto) != test.final {
			t.Errorf("%s: %d bytes, %v", test.name, len(got), err)
		}
		if err != nil && (strings.Contains(err.Error(), "secret") || strings.Contains(err.Error(), "/2/")) {
			t.Errorf("%s: names the address: %v", test.name, err)
		}
	}
}

// A picture that does not fit in 2 MiB is made smaller until it does.
func TestPhotoIsMadeSmaller(t *testing.T) {
	t.Parallel()
	random := rand.New(rand.NewPCG(1, 2))
	noise := image.NewRGBA(image.Rect(0, 0, 2600, 1700))
	for i := range noise.Pix {
		noise.Pix[i] = uint8(random.Uint32())
	}
	file := jpegOf(t, noise, 95)
	if len(file) <= mostKept {
		t.Fatalf("only %d bytes to begin with", len(file))
	}
	got, err := encodePhoto(file)
	if err != nil || len(got) > mostKept {
		t.Fatalf("%d bytes, %v", len(got), err)
	}
	about, err := jpeg.DecodeConfig(bytes.NewReader(got))
	if err != nil || about.Width != 1300 || about.Height != 850 {
		t.Errorf("%d by %d, %v; want half of it", about.Width, about.Height, err)
	}
	// Each pixel is the mean of four, also at an odd edge.
	small := image.NewGray(image.Rect(0, 0, 3, 2))
	copy(small.Pix, []uint8{10, 20, 200, 30, 40, 200})
	if red, _, _, _ := halved(small).At(0, 0).RGBA(); red>>8 != 25 || halved(small).Bounds().Dx() != 1 {
		t.Errorf("halved to %d, %v", red>>8, halved(small).Bounds())
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// claims is a PNG that says how large it is and holds no pixels.
func claims(t *testing.T, width, height uint32) []byte {
	t.Helper()
	var drawn bytes.Buffer
	if err := png.Encode(&drawn, shaded(2, 2)); err != nil {
		t.Fatal(err)
	}
	file := drawn.Bytes()[:33] // the signature and the header
	binary.BigEndian.PutUint32(file[16:], width)
	binary.BigEndian.PutUint32(file[20:], height)
	binary.BigEndian.PutUint32(file[29:], crc32.ChecksumIEEE(file[12:29]))
	return file
}
