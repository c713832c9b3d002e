package print

import (
	"net/http"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/paper"
	"tagalong/web/endpoint"
)

// sizeCookie remembers the paper in this tablet's printer. It is no secret.
const sizeCookie = "tagalong-paper"

const sizeLife = 365 * 24 * time.Hour

// chooseSize is the paper asked for by size=, which is remembered for this
// tablet or browser, else the paper it printed on last; A4 at first.
func chooseSize(w http.ResponseWriter, r *http.Request) (paper.Size, error) {
	text := r.FormValue("size")
	if text == "" {
		if c, err := r.Cookie(sizeCookie); err == nil {
			if z, err := paper.ParseSize(c.Value); err == nil {
				return z, nil
			}
		}
		return paper.A4, nil
	}
	z, err := paper.ParseSize(text)
	if err != nil {
		return z, app.Refuse("bad-value", "field", "size", "problem", err.Error())
	}
	http.SetCookie(w, &http.Cookie{
		Name: sizeCookie, Value: z.String(), Path: "/", MaxAge: int(sizeLife.Seconds()),
		Secure: endpoint.PageOf(r).Secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
	return z, nil
}
