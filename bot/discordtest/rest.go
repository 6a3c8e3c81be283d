package discordtest

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
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
	wait         time.Duration // that a 429 asks for
	global       bool          // for every request
}

func (r *refusal) Error() string { return r.message }

func refuse(status, code int, message string) error {
	return &refusal{status: status, code: code, message: message}
}

// The refusals that several routes share.
var (
	errUnknownChannel     = refuse(404, 10003, "Unknown Channel")
	errUnknownMessage     = refuse(404, 10008, "Unknown Message")
	errUnknownInteraction = refuse(404, 10062, "Unknown interaction")
	errAcknowledged       = refuse(400, 40060, "Interaction has already been acknowledged.")
	errPermissions        = refuse(403, 50013, "Missing Permissions")
	errAccess             = refuse(403, 50001, "Missing Access")
	errSystemMessage      = refuse(403, 50021, "Cannot execute action on a system message")
	errForm               = func(why string) error { return refuse(400, 50035, "Invalid Form Body: "+why) }
)

// restCall is one request on its way through a route.
type restCall struct {
	s     *Server
	r     *http.Request
	path  []string // without the version
	body  map[string]any
	raw   json.RawMessage
	files []upload
	// of the answer, beside those that every one has
	header map[string]string
	// one of the files is over largestFile
	tooLarge bool
}

// largestFile is the largest file that Discord takes, in bytes.
const largestFile = 10 << 20

var version = regexp.MustCompile(`^/api(/v\d+)?`)

// serve answers one HTTP request: the gateway's or REST.
func (s *Server) serve(writer http.ResponseWriter, request *http.Request) {
	// The gateway is another protocol.
	if request.URL.Path == "/gateway-socket" || request.URL.Path == "/gateway-socket/" {
		s.serveGateway(writer, request)
		return
	}
	if isFile(request) {
		s.serveFile(writer, request)
		return
	}
	path := version.ReplaceAllString(request.URL.Path, "")
	call := &restCall{s: s, r: request, path: strings.Split(strings.Trim(path, "/"), "/")}
	if err := call.read(); err != nil {
		http.Error(writer, err.Error(), http.StatusBadRequest)
		return
	}
	// Whoever watches is told, and the request takes effect unless a fault comes first.
	s.mu.Lock() // hooks are set before the lock is first taken by whoever sets them
	onRequest, problem := s.OnRequest, s.Problem
	writer.Header().Set("Date", s.now().UTC().Format(http.TimeFormat))
	s.mu.Unlock()
	if onRequest != nil {
		onRequest(request.Method, path, false)
	}
	scripted := s.fault(request.Method, path)
	if scripted == nil || scripted.Served {
		s.schema.check(problem, request.Method, path, call.raw)
	}
	var answer any
	var err error
	s.mu.Lock()
	s.taken++
	turn := s.taken // it is noted in the order in which requests took effect
	if scripted == nil || scripted.Served {
		answer, err = call.route()
		s.notify()
	}
	s.mu.Unlock()
	if onRequest != nil {
		onRequest(request.Method, path, true)
	}
	// any order: each header is set once
	for k, v := range call.header {
		writer.Header().Set(k, v)
	}
	// What is answered: by the fault, by a refusal, or by what the route gives.
	status := http.StatusOK
	var text []byte
	contentType := "application/json"
	var ref *refusal
	switch {
	case scripted != nil:
		if scripted.Stalled > 0 {
			select {
			case <-time.After(scripted.Stalled):
			case <-request.Context().Done():
			}
		}
		if scripted.Drop {
			s.record(turn, Request{request.Method, path, string(call.raw), 0})
			panic(http.ErrAbortHandler)
		}
		status, text = scripted.Status, []byte(scripted.Body)
		if scripted.Type != "" {
			contentType = scripted.Type
		}
		// any order: each header is set once
		for k, v := range scripted.Header {
			writer.Header().Set(k, v)
		}
	case errors.As(err, &ref):
		status = ref.status
		if ref.wait > 0 {
			limited := TooMany(ref.wait, ref.global)
			text = []byte(limited.Body)
			// any order: each header is set once
			for k, v := range limited.Header {
				if call.header[k] == "" {
					writer.Header().Set(k, v)
				}
			}
			break
		}
		text, _ = json.Marshal(map[string]any{"code": ref.code, "message": ref.message})
		if ref.code == 50035 && problem != nil {
			problem(request.Method + " " + path + ": " + ref.message)
		}
	case answer == nil:
		status = http.StatusNoContent
	default:
		if made, ok := answer.(created); ok {
			status, answer = http.StatusCreated, made.what
		}
		text, _ = json.Marshal(answer)
	}
	// It is noted, then answered.
	s.record(turn, Request{request.Method, path, string(call.raw), status})
	if status != http.StatusNoContent {
		writer.Header().Set("Content-Type", contentType)
	}
	writer.WriteHeader(status)
	writer.Write(text) //nolint:errcheck // the client may be gone
}

// record notes a request that was made, before those whose turn was later.
func (s *Server) record(turn int, request Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	at, _ := slices.BinarySearch(s.turns, turn)
	s.turns, s.requests = slices.Insert(s.turns, at, turn), slices.Insert(s.requests, at, request)
	s.notify()
}

// read takes the body apart: JSON, or a form with JSON and files.
func (call *restCall) read() error {
	kind, params, _ := mime.ParseMediaType(call.r.Header.Get("Content-Type"))
	text, err := io.ReadAll(call.r.Body)
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
			for _, part := range form.File[field] {
				call.tooLarge = call.tooLarge || part.Size > largestFile
				file, err := part.Open()
				if err != nil {
					return err
				}
				data, err := io.ReadAll(file)
				if err = errors.Join(err, file.Close()); err != nil {
					return err
				}
				call.files = append(call.files, upload{part.Filename, part.Header.Get("Content-Type"), data})
			}
		}
	}
	call.raw = text
	if len(text) > 0 && text[0] == '{' {
		return json.Unmarshal(text, &call.body)
	}
	return nil
}

// is reports whether the request is of a method and a path, in which * stands
// for any segment.
func (call *restCall) is(method, pattern string) bool {
	p := strings.Split(pattern, "/")
	return call.r.Method == method && len(p) == len(call.path) && matches(pattern, strings.Join(call.path, "/"))
}

// isAny is is, for any of some methods.
func (call *restCall) isAny(methods []string, pattern string) bool {
	return slices.ContainsFunc(methods, func(method string) bool { return call.is(method, pattern) })
}

// checkPath holds the ids in a path to the form of ids, and the application to its own.
func (call *restCall) checkPath() error {
	for i, name := range call.path[:len(call.path)-1] {
		id := call.path[i+1]
		switch name {
		case "channels", "guilds", "pins":
		case "applications", "messages", "commands", "webhooks":
			if id == "@me" || id == "@original" || id == "pins" {
				continue
			}
		default:
			continue
		}
		if !snowflake.MatchString(id) {
			return errForm(fmt.Sprintf("Value %q is not snowflake.", id))
		}
		if name == "applications" && id != AppID {
			return refuse(403, 20012, "You are not authorized to perform this action on this application")
		}
	}
	return nil
}

// route serves one REST request, under the lock.
func (call *restCall) route() (any, error) {
	server := call.s
	// What holds of every request.
	if a := call.r.Header.Get("Authorization"); a != "Bot "+Token &&
		!(call.path[0] == "interactions" || call.path[0] == "webhooks") {
		return nil, refuse(401, 0, "401: Unauthorized")
	}
	if call.tooLarge {
		return nil, refuse(413, 40005, "Request entity too large")
	}
	if err := call.everywhere(); err != nil {
		return nil, err
	}
	if err := call.checkPath(); err != nil {
		return nil, err
	}
	socket := func() string { return "ws" + strings.TrimPrefix(server.URL(), "http") + "/gateway-socket" }
	// The routes: of the gateway and the application, its commands, interactions, channels.
	switch {
	case call.is("GET", "gateway"):
		return map[string]any{"url": socket()}, nil
	case call.is("GET", "gateway/bot"):
		return map[string]any{"url": socket(), "shards": 1,
			"session_start_limit": server.startLimit()}, nil
	case call.is("GET", "users/@me"):
		return botUser(), nil
	case call.is("GET", "applications/@me"), call.is("GET", "oauth2/applications/@me"):
		return map[string]any{"id": AppID, "name": "Setscrew", "flags": 0}, nil
	case call.is("GET", "applications/*/commands"), call.is("GET", "applications/*/guilds/*/commands"):
		return nonNil(server.commands[call.guild()]), nil
	case call.is("PUT", "applications/*/commands"), call.is("PUT", "applications/*/guilds/*/commands"):
		all, err := server.overwrite(call.guild(), call.raw)
		if err != nil {
			return nil, err
		}
		server.overwrites++
		return nonNil(all), nil
	case call.is("POST", "applications/*/commands"), call.is("POST", "applications/*/guilds/*/commands"),
		call.isAny([]string{"GET", "PATCH", "DELETE"}, "applications/*/commands/*"),
		call.isAny([]string{"GET", "PATCH", "DELETE"}, "applications/*/guilds/*/commands/*"):
		return server.command(call)
	case call.is("POST", "interactions/*/*/callback"):
		return server.callback(call)
	case call.is("POST", "webhooks/*/*"),
		call.isAny([]string{"GET", "PATCH", "DELETE"}, "webhooks/*/*/messages/*"):
		return server.webhook(call)
	case call.is("GET", "channels/*/messages/pins"), call.is("PUT", "channels/*/messages/pins/*"),
		call.is("DELETE", "channels/*/messages/pins/*"):
		return server.pins(call)
	case call.is("GET", "guilds/*/roles/member-counts"):
		return server.memberCounts(call.path[1])
	case len(call.path) >= 2 && call.path[0] == "channels":
		return server.channel(call)
	}
	return nil, refuse(404, 0, "404: Not Found")
}

func (call *restCall) guild() string {
	if len(call.path) >= 5 && call.path[2] == "guilds" {
		return call.path[3]
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
