package bot

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/gif" // a photo may come so
	"image/jpeg"
	_ "image/png" // or so
	"io"
	"net/http"
	"net/url"

	"github.com/bwmarrin/discordgo"

	"setscrew/domain"
)

// The bounds of a member's photo.
const (
	mostFetched = 25 << 20 // bytes that are read of one
	mostPixels  = 50e6     // that are decoded, at four bytes each
	mostKept    = 2 << 20  // bytes of it as it is posted
)

// photoHosts are where Discord keeps what members attach, by their exact names.
var photoHosts = map[string]bool{"cdn.discordapp.com": true, "media.discordapp.net": true}

// errPhoto is a photo that is not taken: from elsewhere, too large, or no picture.
var errPhoto = errors.New("photo not taken")

// fetchPhoto fetches a photo from Discord's own hosts and encodes it as a JPEG of at
// most 2 MiB, which drops all that the file says beside the picture: place, time and
// device. It follows no redirect, believes no length that it is told, and looks at the
// dimensions before it decodes. The error wraps errPhoto where trying again is of no
// use, and never holds the address, whose signature lets anybody fetch it.
func fetchPhoto(ctx context.Context, client *http.Client, address string) ([]byte, error) {
	// Only Discord's own hosts, spelt as they are: no port, no user, no other scheme.
	from, err := url.Parse(address)
	if err != nil || from.Scheme != "https" || !photoHosts[from.Host] || from.User != nil {
		return nil, fmt.Errorf("%w: not from Discord's hosts", errPhoto)
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, from.String(), nil)
	if err != nil {
		return nil, fmt.Errorf("%w: no address", errPhoto)
	}
	still := http.Client{Transport: client.Transport,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	response, err := still.Do(request)
	if err != nil {
		var failed *url.Error
		if errors.As(err, &failed) {
			err = failed.Err // its text names the address
		}
		return nil, fmt.Errorf("fetch a photo from %s: %w", from.Host, err)
	}
	defer response.Body.Close() //nolint:errcheck // it was only read
	switch {
	case response.StatusCode >= http.StatusInternalServerError:
		return nil, fmt.Errorf("fetch a photo from %s: status %d", from.Host, response.StatusCode)
	case response.StatusCode != http.StatusOK:
		return nil, fmt.Errorf("%w: status %d", errPhoto, response.StatusCode)
	}
	// One byte more than is allowed tells that there is too much.
	file, err := io.ReadAll(io.LimitReader(response.Body, mostFetched+1))
	if err != nil {
		return nil, fmt.Errorf("read a photo: %w", err)
	}
	if len(file) > mostFetched {
		return nil, fmt.Errorf("%w: more than %d MiB", errPhoto, mostFetched>>20)
	}
	return encodePhoto(file)
}

// postWithPhoto posts a notice, with the photo that its report came with, as it was kept
// then: the link to it dies within a day. One that cannot be had, or that may not be
// posted here, is left out.
func (n *notices) postWithPhoto(ctx context.Context, shop domain.Shop, notice domain.Notice, payload body) ([]byte,
	error) {
	address := discordgo.EndpointChannelMessages(shop.NoticeChannel)
	photo := notice.Args.Photo
	session := n.session()
	if n.photos == nil || photo == nil || session == nil {
		return n.request(ctx, "POST", address, payload)
	}
	within, cancel := context.WithTimeout(ctx, photoWaits)
	defer cancel()
	file := n.photos.get(within, shop.ID, notice.Key)
	if file == nil {
		return n.request(ctx, "POST", address, payload)
	}
	pictured := payload
	pictured.Attachments = []attachment{{ID: "0", Filename: photoName, Description: alt(photo.Name)}}
	kind, form, err := discordgo.MultipartBodyWithJSON(pictured,
		[]*discordgo.File{{Name: photoName, ContentType: "image/jpeg", Reader: bytes.NewReader(file)}})
	if err != nil {
		return nil, fmt.Errorf("put a photo into a notice: %w", err)
	}
	text, err := session.RequestRaw("POST", address, kind, form, address, 0, discordgo.WithContext(ctx))
	switch restCode(err) {
	case codeMissingPerms, codeTooLarge:
		return n.request(ctx, "POST", address, payload)
	}
	return text, err
}

// photoName is what a photo is called where it is posted: its own name may say too much.
const photoName = "photo.jpg"

// codeTooLarge is Discord's code of files that are larger than a server takes.
const codeTooLarge = 40005

// encodePhoto is a picture as a JPEG of at most 2 MiB, made smaller until it fits.
func encodePhoto(file []byte) ([]byte, error) {
	// A file of some kilobytes can claim to be gigabytes of pixels.
	about, _, err := image.DecodeConfig(bytes.NewReader(file))
	if err != nil {
		return nil, fmt.Errorf("%w: no picture: %w", errPhoto, err)
	}
	if about.Width < 1 || about.Height < 1 || float64(about.Width)*float64(about.Height) > mostPixels {
		return nil, fmt.Errorf("%w: %d by %d pixels", errPhoto, about.Width, about.Height)
	}
	picture, _, err := image.Decode(bytes.NewReader(file))
	if err != nil {
		return nil, fmt.Errorf("%w: no picture: %w", errPhoto, err)
	}
	for {
		for _, quality := range []int{85, 65} {
			var text bytes.Buffer
			if err := jpeg.Encode(&text, picture, &jpeg.Options{Quality: quality}); err != nil {
				return nil, fmt.Errorf("%w: %w", errPhoto, err)
			}
			if text.Len() <= mostKept {
				return text.Bytes(), nil
			}
		}
		picture = halved(picture)
	}
}

// halved is a picture of half the width and height, each pixel the mean of four.
func halved(picture image.Image) image.Image {
	from := picture.Bounds()
	half := image.NewRGBA(image.Rect(0, 0, max(from.Dx()/2, 1), max(from.Dy()/2, 1)))
	for row := range half.Rect.Dy() {
		for column := range half.Rect.Dx() {
			var sum [3]uint32
			for n := range 4 {
				red, green, blue, _ := picture.At(from.Min.X+min(2*column+n%2, from.Dx()-1),
					from.Min.Y+min(2*row+n/2, from.Dy()-1)).RGBA()
				sum[0], sum[1], sum[2] = sum[0]+red, sum[1]+green, sum[2]+blue
			}
			half.SetRGBA(column, row, color.RGBA{uint8(sum[0] >> 10), uint8(sum[1] >> 10), uint8(sum[2] >> 10), 255})
		}
	}
	return half
}
