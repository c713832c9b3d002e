package people

import (
	"time"

	"tagalong/web/endpoint"
)

// dueBefore is how long before its end the server's certificate is called due.
const dueBefore = 30 * 24 * time.Hour

func certificateDue(a endpoint.Authority, now time.Time) bool { return a.Ends.Sub(now) < dueBefore }

// certificateEnds is the whole date: the year matters here.
func certificateEnds(a endpoint.Authority, now time.Time) string {
	return a.Ends.In(now.Location()).Format("2 January 2006")
}
