package discordtest

import (
	"fmt"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"
)

// fileHost is where files are fetched from.
const fileHost = "cdn.discordapp.com"

// How long links to files hold. Those of files that came with an interaction are only
// sure while its token lives.
const (
	linkLife          = 24 * time.Hour
	ephemeralLinkLife = tokenLife
)

// upload is a file that came with a request.
type upload struct {
	name, kind string
	data       []byte
}

// link keeps a file and is what Discord says of it, with a link that is signed for some
// time.
func (s *Server) link(kind, id, name string, data []byte, life time.Duration) map[string]any {
	place := "/" + kind + "/" + AppID + "/" + id + "/" + name
	s.files[place] = data
	url := s.signed(place, life)
	return map[string]any{"id": id, "filename": name, "size": len(data), "url": url,
		"proxy_url": strings.Replace(url, fileHost, "media.discordapp.net", 1)}
}

// signed is a link to a file that holds for some time from now.
func (s *Server) signed(place string, life time.Duration) string {
	now := s.now()
	return fmt.Sprintf("https://%s%s?ex=%x&is=%x&hm=%x", fileHost, place, now.Add(life).Unix(), now.Unix(),
		fileSum(place, now.Add(life)))
}

// file is one that a message holds.
type file struct {
	id   string
	what upload
}

// attached are a message's files as Discord says them, each time with links that hold.
func (m *Message) attached() []any {
	all := []any{}
	for _, f := range m.files {
		said := m.server.link("attachments", f.id, f.what.name, f.what.data, linkLife)
		said["content_type"] = f.what.kind
		all = append(all, said)
	}
	return all
}

// fileSum is a link's signature: of its file and of its end.
func fileSum(place string, ends time.Time) uint64 {
	sum := uint64(14695981039346656037)
	for _, b := range []byte(place + strconv.FormatInt(ends.Unix(), 16)) {
		sum = (sum ^ uint64(b)) * 1099511628211
	}
	return sum
}

// isFile reports whether a request is for a file rather than the API.
func isFile(r *http.Request) bool {
	return strings.HasPrefix(r.URL.Path, "/attachments/") || strings.HasPrefix(r.URL.Path, "/ephemeral-attachments/")
}

// serveFile answers a request for a file, for as long as its link holds.
func (s *Server) serveFile(writer http.ResponseWriter, r *http.Request) {
	place, query := path.Clean(r.URL.Path), r.URL.Query()
	ends, err := strconv.ParseInt(query.Get("ex"), 16, 64)
	s.mu.Lock()
	data, ok := s.files[place]
	now := s.now()
	s.mu.Unlock()
	if err != nil || !ok || now.Unix() >= ends ||
		query.Get("hm") != fmt.Sprintf("%x", fileSum(place, time.Unix(ends, 0))) {
		http.Error(writer, "This content is no longer available.", http.StatusNotFound)
		return
	}
	writer.Header().Set("Content-Type", http.DetectContentType(data))
	writer.Write(data) //nolint:errcheck // the client may be gone
}
