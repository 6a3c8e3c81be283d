package discordtest

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"maps"
	"mime"
	"mime/multipart"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"time"
)

// refusal is an answer with Discord's error code.
type refusal struct {
	status, code int
	message      string
}

func (r *refusal) Error() string { return r.message }

func refuse(status, code int, message string) error { return &refusal{status, code, message} }

// The refusals that several routes share.
var (
	errUnknownChannel     = refuse(404, 10003, "Unknown Channel")
	errUnknownMessage     = refuse(404, 10008, "Unknown Message")
	errUnknownInteraction = refuse(404, 10062, "Unknown interaction")
	errAcknowledged       = refuse(400, 40060, "Interaction has already been acknowledged.")
	errPermissions        = refuse(403, 50013, "Missing Permissions")
	errAccess             = refuse(403, 50001, "Missing Access")
	errForm               = func(why string) error { return refuse(400, 50035, "Invalid Form Body: "+why) }
)

// call is one request on its way through a route.
type call struct {
	s     *Server
	r     *http.Request
	path  []string // without the version
	body  map[string]any
	raw   json.RawMessage
	files []string
	// one of the files is over largestFile
	tooLarge bool
}

// largestFile is the largest file that Discord takes, in bytes.
const largestFile = 10 << 20

var version = regexp.MustCompile(`^/api(/v\d+)?`)

// serve answers one HTTP request: the gateway's or REST.
func (s *Server) serve(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path == "/gateway-socket" || r.URL.Path == "/gateway-socket/" {
		s.serveGateway(w, r)
		return
	}
	path := version.ReplaceAllString(r.URL.Path, "")
	c := &call{s: s, r: r, path: strings.Split(strings.Trim(path, "/"), "/")}
	if err := c.read(); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	s.mu.Lock() // hooks are set before the lock is first taken by whoever sets them
	onRequest, problem := s.OnRequest, s.Problem
	s.mu.Unlock()
	if onRequest != nil {
		onRequest(r.Method, path, false)
	}
	f := s.fault(r.Method, path)
	if f == nil || f.Served {
		s.schema.check(problem, r.Method, path, c.raw)
	}
	var answer any
	var err error
	if f == nil || f.Served {
		s.mu.Lock()
		answer, err = c.route()
		s.notify()
		s.mu.Unlock()
	}
	if onRequest != nil {
		onRequest(r.Method, path, true)
	}
	status := http.StatusOK
	var text []byte
	contentType := "application/json"
	var ref *refusal
	switch {
	case f != nil:
		if f.Stalled > 0 {
			select {
			case <-time.After(f.Stalled):
			case <-r.Context().Done():
			}
		}
		if f.Drop {
			s.record(Request{r.Method, path, string(c.raw), 0})
			panic(http.ErrAbortHandler)
		}
		status, text = f.Status, []byte(f.Body)
		if f.Type != "" {
			contentType = f.Type
		}
		// any order: each header is set once
		for k, v := range f.Header {
			w.Header().Set(k, v)
		}
	case errors.As(err, &ref):
		status = ref.status
		text, _ = json.Marshal(map[string]any{"code": ref.code, "message": ref.message})
		if ref.code == 50035 && problem != nil {
			problem(r.Method + " " + path + ": " + ref.message)
		}
	case answer == nil:
		status = http.StatusNoContent
	default:
		text, _ = json.Marshal(answer)
	}
	s.record(Request{r.Method, path, string(c.raw), status})
	if status != http.StatusNoContent {
		w.Header().Set("Content-Type", contentType)
	}
	w.WriteHeader(status)
	w.Write(text) //nolint:errcheck // the client may be gone
}

// record notes a request that was made.
func (s *Server) record(r Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.requests = append(s.requests, r)
	s.notify()
}

// read takes the body apart: JSON, or a form with JSON and files.
func (c *call) read() error {
	kind, params, _ := mime.ParseMediaType(c.r.Header.Get("Content-Type"))
	text, err := io.ReadAll(c.r.Body)
	if err != nil {
		return err
	}
	if kind == "multipart/form-data" {
		form, err := multipart.NewReader(bytes.NewReader(text), params["boundary"]).ReadForm(1 << 20)
		if err != nil {
			return err
		}
		text = nil
		if v := form.Value["payload_json"]; len(v) > 0 {
			text = []byte(v[0])
		}
		for _, field := range slices.Sorted(maps.Keys(form.File)) {
			for _, f := range form.File[field] {
				c.tooLarge = c.tooLarge || f.Size > largestFile
				c.files = append(c.files, f.Filename)
			}
		}
	}
	c.raw = text
	if len(text) > 0 && text[0] == '{' {
		return json.Unmarshal(text, &c.body)
	}
	return nil
}

// is reports whether the request is of a method and a path, in which * stands
// for any segment.
func (c *call) is(method, pattern string) bool {
	p := strings.Split(pattern, "/")
	return c.r.Method == method && len(p) == len(c.path) && matches(pattern, strings.Join(c.path, "/"))
}

// route serves one REST request, under the lock.
func (c *call) route() (any, error) {
	s := c.s
	if a := c.r.Header.Get("Authorization"); a != "Bot "+Token &&
		!(c.path[0] == "interactions" || c.path[0] == "webhooks") {
		return nil, refuse(401, 0, "401: Unauthorized")
	}
	if c.tooLarge {
		return nil, refuse(413, 40005, "Request entity too large")
	}
	socket := func() string { return "ws" + strings.TrimPrefix(s.URL(), "http") + "/gateway-socket" }
	switch {
	case c.is("GET", "gateway"):
		return map[string]any{"url": socket()}, nil
	case c.is("GET", "gateway/bot"):
		return map[string]any{"url": socket(), "shards": 1,
			"session_start_limit": map[string]any{"total": 1000, "remaining": 1000, "reset_after": 0,
				"max_concurrency": 1}}, nil
	case c.is("GET", "users/@me"):
		return botUser(), nil
	case c.is("GET", "applications/@me"), c.is("GET", "oauth2/applications/@me"):
		return map[string]any{"id": AppID, "name": "Setscrew", "flags": 0}, nil
	case c.is("GET", "applications/*/commands"), c.is("GET", "applications/*/guilds/*/commands"):
		return nonNil(s.commands[c.guild()]), nil
	case c.is("PUT", "applications/*/commands"), c.is("PUT", "applications/*/guilds/*/commands"):
		return s.overwrite(c.guild(), c.raw)
	case c.is("POST", "interactions/*/*/callback"):
		return nil, s.callback(c.path[1], c.path[2], c.body, c.files)
	case c.is("PATCH", "webhooks/*/*/messages/@original"), c.is("POST", "webhooks/*/*"):
		return s.followUp(c.path[2], c.r.Method == "PATCH", c.body, c.files)
	case c.is("GET", "channels/*/messages/pins"), c.is("PUT", "channels/*/messages/pins/*"),
		c.is("DELETE", "channels/*/messages/pins/*"):
		return s.pins(c)
	case len(c.path) >= 2 && c.path[0] == "channels":
		return s.channel(c)
	}
	return nil, refuse(404, 0, "404: Not Found")
}

func (c *call) guild() string {
	if len(c.path) == 5 {
		return c.path[3]
	}
	return ""
}

func botUser() map[string]any {
	return map[string]any{"id": AppID, "username": "setscrew", "discriminator": "0000", "bot": true}
}

func nonNil[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
