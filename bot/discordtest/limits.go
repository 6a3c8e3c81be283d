package discordtest

import (
	"fmt"
	"slices"
	"strconv"
	"time"
)

// What Discord takes of one client. Of a channel it documents no number; about five posts
// in five seconds is what is seen.
const (
	channelPosts  = 5 // see Server.ChannelPosts
	channelWithin = 5 * time.Second
	requests      = 50 // see Server.RequestsASecond
	requestsTime  = time.Second
)

// bucket counts one kind of request over a time.
type bucket struct {
	at []time.Time
}

// take counts one more request unless there were too many, and is how many more may come
// and how long the oldest still counts. ok says whether it may.
func (b *bucket) take(now time.Time, most int, within time.Duration) (left int, reset time.Duration, ok bool) {
	b.at = slices.DeleteFunc(b.at, func(at time.Time) bool { return now.Sub(at) >= within })
	if len(b.at) >= most {
		return 0, b.at[0].Add(within).Sub(now), false
	}
	b.at = append(b.at, now)
	return most - len(b.at), b.at[0].Add(within).Sub(now), true
}

// tooMany is a refusal that says how long to wait.
func tooMany(wait time.Duration, global bool) error {
	return &refusal{status: 429, message: "You are being rate limited.", wait: wait, global: global}
}

// most is how many requests are taken, by the number that a test sets: the usual if that
// is 0, any number if it is negative.
func most(meant, usual int) (int, bool) {
	if meant == 0 {
		meant = usual
	}
	return meant, meant > 0
}

// everywhere takes one of the requests that a client may make in a second, wherever to.
func (call *restCall) everywhere() error {
	server := call.s
	n, limited := most(server.RequestsASecond, requests)
	if !limited || call.path[0] == "interactions" || call.path[0] == "webhooks" {
		return nil
	}
	if _, wait, ok := server.requested.take(server.now(), n, requestsTime); !ok {
		return tooMany(wait, true)
	}
	return nil
}

// inChannel takes one of the requests of a kind that a channel has room for, and tells
// the client what is left.
func (call *restCall) inChannel(kind string, ch *Channel) error {
	server := call.s
	count, limited := most(server.ChannelPosts, channelPosts)
	if !limited {
		return nil
	}
	if ch.buckets == nil {
		ch.buckets = map[string]*bucket{}
	}
	if ch.buckets[kind] == nil {
		ch.buckets[kind] = &bucket{}
	}
	left, reset, ok := ch.buckets[kind].take(server.now(), count, channelWithin)
	seconds := func(t float64) string { return strconv.FormatFloat(t, 'f', 3, 64) }
	call.header = map[string]string{"X-RateLimit-Limit": strconv.Itoa(count),
		"X-RateLimit-Remaining":   strconv.Itoa(left),
		"X-RateLimit-Reset":       seconds(float64(server.now().Add(reset).UnixMilli()) / 1000),
		"X-RateLimit-Reset-After": seconds(reset.Seconds()), "X-RateLimit-Bucket": fmt.Sprintf("%s-of-channels", kind)}
	if !ok {
		call.header["X-RateLimit-Scope"] = "user"
		return tooMany(reset, false)
	}
	return nil
}
