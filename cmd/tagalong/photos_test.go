package main

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/photo"
)

// picture is one of the samples of pictures.
func picture(t testing.TB, name string) []byte {
	t.Helper()
	raw, err := os.ReadFile("../../internal/photo/testdata/" + name)
	must(t, err)
	return raw
}

// photo sends a picture as it is.
func (b *browser) photo(raw io.Reader) answer {
	b.t.Helper()
	req, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, b.shop.url+"/photos", raw)
	must(b.t, err)
	req.Header.Set("Accept", "application/json")
	req.Header.Set("Content-Type", "image/jpeg")
	resp, err := b.http.Do(req)
	must(b.t, err)
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	must(b.t, err)
	return answer{resp, string(text)}
}

// keeps sends a picture that must be kept and returns its hash.
func (b *browser) keeps(raw []byte) string {
	b.t.Helper()
	got := b.photo(bytes.NewReader(raw))
	if got.StatusCode != http.StatusOK {
		b.t.Fatalf("photo: %d %s", got.StatusCode, got.body)
	}
	return decoded[app.PhotoTaken](b.t, got).Hash
}

// A photo is taken in by a tablet, shown to whoever may see the shop's pages,
// and part of the record of the problem it shows.
func TestPhotoOfAProblem(t *testing.T) {
	s := newShop(t)
	badge, bay := s.badge(inspector), s.tablet("GOODS-1")
	got := bay.photo(bytes.NewReader(picture(t, "orientation-6.jpg")))
	taken := decoded[app.PhotoTaken](t, got)
	if got.StatusCode != http.StatusOK || taken.Width != 96 || taken.Height != 64 {
		t.Fatalf("a photo is answered %d %s", got.StatusCode, got.body)
	}
	whole := bay.get("/photos/" + taken.Hash)
	if photo.HashOf([]byte(whole.body)).String() != taken.Hash {
		t.Error("the photo is not what its hash says")
	}
	for path, most := range map[string]int{"": photo.MaxKept, "/thumb": photo.MaxThumb} {
		at := "/photos/" + taken.Hash + path
		got := s.signedIn("P03").get(at)
		if got.StatusCode != http.StatusOK || len(got.body) > most || got.Header.Get("Content-Type") != "image/jpeg" ||
			got.Header.Get("X-Content-Type-Options") != "nosniff" || got.Header.Get("Cache-Control") != "private, max-age=31536000, immutable" {
			t.Errorf("%s: %d, %d bytes, %v", at, got.StatusCode, len(got.body), got.Header)
		}
		if img, err := jpeg.Decode(strings.NewReader(got.body)); err != nil || img.Bounds() != image.Rect(0, 0, 96, 64) {
			t.Errorf("%s is no upright picture: %v", at, err)
		}
	}
	var sent bytes.Buffer
	form := multipart.NewWriter(&sent)
	must(t, form.WriteField("of", "the corner"))
	part, err := form.CreateFormFile("photo", "corner.jpg")
	must(t, err)
	_, err = part.Write(picture(t, "orientation-6.jpg"))
	must(t, errors.Join(err, form.Close()))
	if got := bay.send(http.MethodPost, "/photos", form.FormDataContentType(), &sent); decoded[app.PhotoTaken](t, got) != taken {
		t.Errorf("the same picture in a form: %d %s", got.StatusCode, got.body)
	}

	came := bay.do(core.ReceiveGoods{Item: core.ItemRev{Item: "SH-5005-3", Rev: "1"}, Qty: 1, Heat: "H1", Identified: true}, badge).Events[0]
	report := core.ReportProblem{Pallet: came.Pallets[0], Lot: came.Lots[0].Lot, Qty: 1, What: "dented", Stay: true, Photos: []string{taken.Hash}}
	if e := bay.do(report, badge).Events[0]; !slices.Equal(e.Photos, report.Photos) {
		t.Errorf("the event's photos: %v", e.Photos)
	}
	page := bay.get("/history/" + string(came.Pallets[0]))
	if want := fmt.Sprintf(`<a href="/photos/%s" class="ringed">`, taken.Hash); !strings.Contains(page.body, want) || !strings.Contains(page.body, "/photos/"+taken.Hash+"/thumb") {
		t.Error("the history shows no photo")
	}

	// A ring is a place on the photo, said with its name: what is kept stays as it
	// was, and a copy is shown with the ring on it.
	ringed := core.ReportProblem{Pallet: came.Pallets[0], Lot: came.Lots[0].Lot, Qty: 1, What: "scratched too", Stay: true, Photos: []string{taken.Hash + "#xywh=percent:20,30,25,10"}}
	if e := bay.do(ringed, badge).Events[0]; !slices.Equal(e.Photos, ringed.Photos) {
		t.Errorf("the event's photos: %v", e.Photos)
	}
	page = bay.get("/history/" + string(came.Pallets[0]))
	copied := "/photos/" + taken.Hash + "/ringed/20,30,25,10"
	for _, want := range []string{`<a href="` + copied + `"`, "with a ring round what is wrong", `cx="32.5" cy="35" rx="12.5" ry="5"`} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the history has no ring: %q", want)
		}
	}
	shown := bay.get(copied)
	if img, err := jpeg.Decode(strings.NewReader(shown.body)); err != nil || img.Bounds() != image.Rect(0, 0, 96, 64) || shown.body == whole.body {
		t.Errorf("the copy with the ring: %d, %v", shown.StatusCode, err)
	}
	if again := bay.get("/photos/" + taken.Hash); again.body != whole.body {
		t.Error("the photo itself was changed")
	}
	for _, box := range []string{"20,30,90,10", "20,30,25", "a,b,c,d", "20,30,0,10"} {
		if got := bay.get("/photos/" + taken.Hash + "/ringed/" + box); got.StatusCode != http.StatusNotFound {
			t.Errorf("a ring at %s: %d", box, got.StatusCode)
		}
	}
	if report, faults, err := s.store.Verify(t.Context()); err != nil || report.Photos != 1 || len(faults) > 0 {
		t.Errorf("%d photos are verified: %v, %v", report.Photos, faults, err)
	}
}

// What is no picture is refused in words, and so is a command whose photos are
// not there; nothing is kept or recorded of either.
func TestPhotosThatAreRefused(t *testing.T) {
	s := newShop(t)
	badge, bay := s.badge(inspector), s.tablet("GOODS-1")
	for _, c := range []struct {
		raw    []byte
		status int
		code   string
	}{
		{nil, http.StatusUnprocessableEntity, "photo-empty"},
		{[]byte("MZ, and then a program"), http.StatusUnsupportedMediaType, "photo-not-a-picture"},
		{picture(t, "camera.heic"), http.StatusUnsupportedMediaType, "photo-heif"},
		{picture(t, "animated.webp"), http.StatusUnprocessableEntity, "photo-moves"},
		{picture(t, "upright.png")[:900], http.StatusUnprocessableEntity, "photo-cut-short"},
		{make([]byte, photo.MaxBytes+1), http.StatusRequestEntityTooLarge, "photo-too-large"},
	} {
		got := bay.photo(bytes.NewReader(c.raw))
		if p := got.problem(t); got.StatusCode != c.status || p.Code != c.code || strings.Contains(p.Detail, "(not known)") {
			t.Errorf("%d %s %q, want %d %s", got.StatusCode, p.Code, p.Detail, c.status, c.code)
		}
	}
	if codes := s.refusalCodes(); !strings.Contains(codes, "photo-not-a-picture/photo/GOODS-1/") {
		t.Errorf("refused on record: %s", codes)
	}
	for _, path := range []string{"/photos/" + strings.Repeat("0", 64), "/photos/" + strings.Repeat("0", 64) + "/thumb", "/photos/..%2fhealthz"} {
		if got := bay.get(path); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d", path, got.StatusCode)
		}
	}

	came := bay.do(core.ReceiveGoods{Item: core.ItemRev{Item: "SH-5005-3", Rev: "1"}, Qty: 1, Heat: "H1", Identified: true}, badge).Events[0]
	kept := bay.keeps(picture(t, "upright.png"))
	report := func(photos ...string) request {
		return s.request(core.ReportProblem{Pallet: came.Pallets[0], Lot: came.Lots[0].Lot, Qty: 1, What: "dented", Stay: true, Photos: photos}).signed(badge)
	}
	p := bay.refused("report-problem", report(kept, strings.Repeat("ab", 32)), http.StatusUnprocessableEntity, "photo-unknown")
	if !strings.Contains(p.Title, "abababab") {
		t.Errorf("which photo is unknown is not said: %s", p.Title)
	}
	bay.refused("report-problem", report("corner.jpg"), http.StatusUnprocessableEntity, "bad-value")
	bay.refused("report-problem", report(kept, kept), http.StatusUnprocessableEntity, "bad-value")
	bay.refused("report-problem", report(slices.Repeat([]string{kept}, app.MaxPhotos+1)...), http.StatusUnprocessableEntity, "photos-too-many")
	if got := s.lots(t, came.Pallets[0]); len(got) != 1 {
		t.Fatalf("lots: %+v", got)
	}
	if held := bay.get("/api/pallets/" + string(came.Pallets[0])); strings.Contains(held.body, "dented") {
		t.Error("a refused report is recorded")
	}
}

// A device that sends photos without end is told to wait, and others go on.
func TestPhotosWithoutEnd(t *testing.T) {
	s := newShop(t)
	bay, other := s.tablet("GOODS-1"), s.tablet("STORE-1")
	raw := picture(t, "upright.png")
	for n := 0; ; n++ {
		got := bay.photo(bytes.NewReader(raw))
		if got.StatusCode == http.StatusTooManyRequests {
			if p := got.problem(t); n != 60 || p.Code != "photo-too-often" || got.Header.Get("Retry-After") == "" || strings.Contains(p.Detail, "(not known)") {
				t.Errorf("after %d photos: %s %v", n, p.Detail, got.Header)
			}
			break
		}
		if got.StatusCode != http.StatusOK || n > 60 {
			t.Fatalf("photo %d: %d %s", n, got.StatusCode, got.body)
		}
	}
	other.keeps(raw)
	s.pass(10 * time.Minute)
	bay.keeps(raw)
}
