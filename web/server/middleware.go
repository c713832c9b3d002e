package server

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"tagalong/internal/app"
)

// answerWithin is how long an endpoint may take that is no stream.
const answerWithin = 20 * time.Second

// policy lets a page run, draw and send only what comes from the shop's own
// server. Pictures may also be written into the page (data:), such as QR symbols.
const policy = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; " +
	"object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// onlySecure tells a browser that came by HTTPS to come by nothing else for a
// week (RFC 6797). Tablets come every day; a shop that gives HTTPS up again, or
// has other things on the same host, isn't locked out for long.
const onlySecure = "max-age=604800"

// headers are those every answer has; a handler may set Cache-Control anew.
func (s *Server) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("Referrer-Policy", "same-origin")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store")
		if s.isSecure(r) {
			h.Set("Strict-Transport-Security", onlySecure)
		}
		next.ServeHTTP(w, r)
	})
}

// sameSite refuses what another site's page makes the browser send.
func (s *Server) sameSite(next http.Handler) http.Handler {
	guard := http.NewCrossOriginProtection()
	guard.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.fail(w, r, app.Refuse("form-cross-site"))
	}))
	return guard.Handler(next)
}

// trace is what the log says of one request.
type trace struct {
	number string
	caller app.Caller
	err    error
}

type traceKey struct{}

func traceOf(r *http.Request) *trace {
	if t, ok := r.Context().Value(traceKey{}).(*trace); ok {
		return t
	}
	return &trace{}
}

func noteCaller(r *http.Request, c app.Caller) { traceOf(r).caller = c }

// number gives the request a number that people can tell the office.
func (s *Server) number(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var raw [4]byte
		_, _ = rand.Read(raw[:]) // never fails (Go 1.24)
		t := &trace{number: hex.EncodeToString(raw[:])}
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), traceKey{}, t)))
	})
}

// logged writes one line a request. Neither the address nor the query is in
// it, since a link may be a secret: the endpoint's pattern says enough.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := time.Now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(ww, r)
		t := traceOf(r)
		level := slog.LevelDebug
		if ww.Status() >= 500 {
			level = slog.LevelError
		} else if r.Method != http.MethodGet {
			level = slog.LevelInfo
		}
		attrs := []slog.Attr{
			slog.String("request", t.number), slog.String("endpoint", r.Method+" "+chi.RouteContext(r.Context()).RoutePattern()),
			slog.Int("status", ww.Status()), slog.Duration("took", time.Since(began)), slog.Int("bytes", ww.BytesWritten()),
			slog.String("tablet", string(t.caller.Tablet)), slog.String("person", string(t.caller.Signer())),
		}
		if t.err != nil {
			attrs = append(attrs, slog.String("error", t.err.Error()))
		}
		s.log.LogAttrs(r.Context(), level, "answered", attrs...)
	})
}

// recovered turns a panic into an error page.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			switch p := recover(); p {
			case nil:
			case http.ErrAbortHandler:
				panic(p) // the handler wants the connection cut
			default:
				s.fail(w, r, fmt.Errorf("panic: %v\n%s", p, debug.Stack()))
			}
		}()
		next.ServeHTTP(w, r)
	})
}

// takenWithin is how long a browser may take to read an answer.
const takenWithin = 2 * time.Minute

// inTime ends the work for an answer that takes too long, and the connection of
// a browser that doesn't read.
func inTime(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(takenWithin)) // not every connection has one
		ctx, cancel := context.WithTimeout(r.Context(), answerWithin)
		defer cancel()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}

func compressed(next http.Handler) http.Handler {
	return middleware.Compress(5, "text/html", "text/css", "text/javascript", "text/plain", "text/csv",
		"application/json", "application/problem+json", "image/svg+xml")(next)
}
