package bot

import (
	"net/url"
	"strings"
)

// secretError is an error whose text names no token. It is the error that it was to
// errors.As and errors.Is.
type secretError struct {
	err   error
	token string
}

// withoutToken is an error of a request that an interaction's token was part of, fit
// for a log: the address stands in the errors of the connection and of limits, and an
// answer may hold it. Whoever has the token can answer in the bot's place for 15
// minutes.
func withoutToken(err error, token string) error {
	if err == nil || token == "" {
		return err
	}
	return &secretError{err, token}
}

// Error is the error's text with "(token)" in the token's place.
func (s *secretError) Error() string {
	return strings.NewReplacer(s.token, "(token)", url.PathEscape(s.token), "(token)",
		url.QueryEscape(s.token), "(token)").Replace(s.err.Error())
}

// Unwrap is the error itself, whose text may name the token.
func (s *secretError) Unwrap() error { return s.err }
