package discordtest

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"
)

// schema is Discord's own published API description. It lies beside the
// project, not in it; where it is missing nothing is held against it.
type schema struct {
	router routers.Router
	passed sync.Map // requests that it let pass: the same one again is not looked at again
}

// findSchema looks for shared/discord/openapi.json beside the project.
func findSchema() string {
	dir, err := os.Getwd()
	if err != nil {
		return ""
	}
	for {
		path := filepath.Join(dir, "shared", "discord", "openapi.json")
		if _, err := os.Stat(path); err == nil {
			return path
		}
		if filepath.Dir(dir) == dir {
			return ""
		}
		dir = filepath.Dir(dir)
	}
}

var loadSchema = sync.OnceValue(func() *schema {
	path := findSchema()
	if path == "" {
		return nil
	}
	doc, err := openapi3.NewLoader().LoadFromFile(path)
	if err != nil {
		panic("discordtest: " + err.Error())
	}
	doc.Servers = openapi3.Servers{{URL: "https://discord.test"}}
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		panic("discordtest: " + err.Error())
	}
	return &schema{router: router}
})

// knownMistakes are complaints that are the description's own mistakes: it
// refuses a string of permissions that Discord takes.
var knownMistakes = []string{"default_member_permissions"}

// check holds a request against the description and tells problem what it
// refuses.
func (sc *schema) check(problem func(string), method, path string, body []byte) {
	if sc == nil || problem == nil {
		return
	}
	request, err := http.NewRequest(method, "https://discord.test"+path, bytes.NewReader(body))
	if err != nil {
		problem(err.Error())
		return
	}
	if len(body) > 0 {
		request.Header.Set("Content-Type", "application/json")
	}
	route, params, err := sc.router.FindRoute(request)
	if err != nil {
		if !strings.HasPrefix(path, "/gateway") {
			problem(fmt.Sprintf("%s %s is no route of the published description: %v", method, path, err))
		}
		return
	}
	// Reading the description for one body takes as long as fifty commits, and every
	// session registers the same commands.
	seen := method + " " + route.Path + " " + string(body)
	if _, passed := sc.passed.Load(seen); passed {
		return
	}
	err = openapi3filter.ValidateRequest(context.Background(),
		&openapi3filter.RequestValidationInput{Request: request, PathParams: params, Route: route,
			Options: &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc,
				ExcludeRequestQueryParams: true}})
	if err == nil {
		sc.passed.Store(seen, true)
		return
	}
	for _, known := range knownMistakes {
		if strings.Contains(err.Error(), known) {
			sc.passed.Store(seen, true)
			return
		}
	}
	problem(fmt.Sprintf("%s %s: %.600s", method, path, err))
}
