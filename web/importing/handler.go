package importing

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"tagalong/internal/app"
	"tagalong/internal/core"
	"tagalong/internal/intake"
	"tagalong/internal/words"
	"tagalong/web/endpoint"
)

// office is who may bring in orders and nests by a command, too.
var office = endpoint.Office(core.Admin, core.Manager)

// uploadWithin is how long files may take on their way, over a slow network.
const uploadWithin = 10 * time.Minute

// patience is how long a page waits for what is nearly done, rather than say
// that it is being done.
const patience = 1500 * time.Millisecond

// pages are the endpoints over one shelf.
type pages struct {
	app   *app.Service
	shelf *shelf
}

// Endpoints of the import and the export.
func Endpoints(s *app.Service) []endpoint.Endpoint {
	p := &pages{s, newShelf(func() string { return uploadsOf(s) })}
	return []endpoint.Endpoint{
		{Method: http.MethodGet, Path: "/import", Access: office, Handler: p.choose,
			Doc: "Choose files to import, or have everything as files."},
		{Method: http.MethodPost, Path: "/import", Access: office, Handler: p.take, MaxBody: maxUpload + 1<<20,
			Doc: "Send files to be read; nothing is stored."},
		{Method: http.MethodGet, Path: "/import/{upload}", Access: office, Handler: p.show,
			Doc: "What files that were sent would change, or what was stored of them."},
		{Method: http.MethodPost, Path: "/import/{upload}", Access: office, Handler: p.act,
			Doc: "Store what files say, all of it or nothing; or read them again; or throw them away."},
		{Method: http.MethodGet, Path: "/import/{upload}/state", Access: office, Handler: p.state,
			Doc: "How far an import has come, as JSON."},
		{Method: http.MethodGet, Path: "/import/{upload}/files.zip", Access: office, Handler: p.files,
			Doc: "The files of an import just as they were sent."},
		{Method: http.MethodGet, Path: "/export.zip", Access: office, Handler: p.export,
			Doc: "Everything that files can say of the shop, in the files of an import."},
	}
}

func (p *pages) choose(w http.ResponseWriter, r *http.Request) error {
	return endpoint.Render(w, r, choosePage(endpoint.PageOf(r), words.Text{}))
}

// take keeps files and begins to read them. A refusal is said on the page, with
// the files still to be chosen; a script gets it as a problem document.
func (p *pages) take(w http.ResponseWriter, r *http.Request) error {
	at := time.Now().Add(uploadWithin)
	c := http.NewResponseController(w)
	_, _ = c.SetReadDeadline(at), c.SetWriteDeadline(at) // not every connection has them
	byScript := strings.Contains(r.Header.Get("Accept"), "application/json")
	u, err := p.receive(r)
	if err != nil && byScript {
		return err
	}
	if err != nil {
		return chooseAgain(w, r, err)
	}
	u.read(r.Context(), p.app, endpoint.CallerOf(r))
	if byScript {
		return endpoint.JSON(w, map[string]string{"next": "/import/" + u.id})
	}
	return endpoint.SeeOther(w, r, "/import/"+u.id)
}

// chooseAgain says a refusal on the page where files are chosen.
func chooseAgain(w http.ResponseWriter, r *http.Request, err error) error {
	refused, ok := errors.AsType[*app.Refused](err)
	if !ok {
		return err
	}
	code := refused.Refusal.Code
	return endpoint.RenderStatus(w, r, endpoint.StatusOf(code), choosePage(endpoint.PageOf(r), words.Refusal(code, refused.Refusal.Params)))
}

// uploadsOf is the folder of uploads: the server's own, or the machine's for
// what is temporary where the server has none.
func uploadsOf(s *app.Service) string {
	if s.Uploads != "" {
		return s.Uploads
	}
	return filepath.Join(os.TempDir(), "tagalong-uploads-"+strconv.Itoa(os.Getpid()))
}

// receive takes the files of a request into a folder of the server's, and looks
// at nothing else in it.
func (p *pages) receive(r *http.Request) (*upload, error) {
	form, err := r.MultipartReader()
	if err != nil {
		return nil, app.Refuse("malformed", "detail", "it is no form with files")
	}
	most := maxUpload
	if r.ContentLength >= 0 {
		most = int(min(int64(maxUpload), r.ContentLength))
	}
	u, err := p.shelf.open(ownerOf(r), most)
	if err != nil {
		return nil, err
	}
	if err := u.receive(form); err != nil {
		p.shelf.discard(u)
		return nil, err
	}
	p.shelf.sent(u)
	return u, nil
}

func (u *upload) receive(form *multipart.Reader) error {
	tooLarge := app.Refuse("import-large", "most", strconv.Itoa(maxUpload>>20)+" MiB", "files", strconv.Itoa(maxFiles)+" files")
	left := maxUpload
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return brokeOff(err, tooLarge)
		}
		if part.FormName() != "files" || part.FileName() == "" {
			continue // a field without a file, as when none was chosen
		}
		if len(u.files) == maxFiles {
			return tooLarge
		}
		if err := u.add(nameOf(part.FileName()), part, left); err != nil {
			return brokeOff(err, tooLarge)
		}
		if left -= u.files[len(u.files)-1].Size; left < 0 {
			return tooLarge
		}
	}
	if len(u.files) == 0 {
		return app.Refuse("import-empty")
	}
	return nil
}

// brokeOff says why an upload did not come whole: it is too large, our own disk
// took no more of it, or the connection ended.
func brokeOff(err, tooLarge error) error {
	if _, large := errors.AsType[*http.MaxBytesError](err); large {
		return tooLarge
	}
	if _, ours := errors.AsType[*fs.PathError](err); ours {
		return err
	}
	return app.Refuse("malformed", "detail", "its files broke off on the way")
}

// nameOf is a file's own name, whatever folders some browser put before it.
func nameOf(sent string) string { return sent[strings.LastIndexAny(sent, `/\`)+1:] }

func ownerOf(r *http.Request) owner {
	page := endpoint.PageOf(r)
	token := endpoint.Secrets(r, page.Secure).Session
	return owner{page.Caller.Person, sha256.Sum256([]byte(token))}
}

func (p *pages) find(r *http.Request) (*upload, error) {
	return p.shelf.get(ownerOf(r), chi.URLParam(r, "upload"))
}

func (p *pages) show(w http.ResponseWriter, r *http.Request) error {
	u, err := p.find(r)
	if err != nil {
		return chooseAgain(w, r, err)
	}
	u.settled(r.Context(), patience)
	page, v := endpoint.PageOf(r), u.look()
	switch v.State {
	case ready:
		return endpoint.Render(w, r, planPage(page, v))
	case stored:
		return endpoint.Render(w, r, storedPage(page, v))
	case failed:
		return endpoint.Render(w, r, failedPage(page, v))
	}
	return endpoint.Render(w, r, busyPage(page, v))
}

// act does what a button of the page asks for; pressed twice, it is done once.
func (p *pages) act(w http.ResponseWriter, r *http.Request) error {
	if err := endpoint.Form(r); err != nil {
		return err
	}
	u, err := p.find(r)
	if err != nil {
		return chooseAgain(w, r, err)
	}
	switch r.PostForm.Get("do") {
	case "store":
		u.store(r.Context(), p.app, endpoint.CallerOf(r))
	case "read":
		u.read(r.Context(), p.app, endpoint.CallerOf(r))
	case "discard":
		if !u.busy() {
			p.shelf.discard(u)
		}
		return endpoint.SeeOther(w, r, "/import")
	default:
		return app.Refuse("bad-value", "field", "do", "problem", "it is none of store, read and discard")
	}
	return endpoint.SeeOther(w, r, "/import/"+u.id)
}

func (p *pages) state(w http.ResponseWriter, r *http.Request) error {
	u, err := p.find(r)
	if err != nil {
		return err
	}
	v := u.look()
	return endpoint.JSON(w, struct {
		State   state `json:"state"`
		Seconds int   `json:"seconds"`
	}{v.State, int(v.For / time.Second)})
}

func (p *pages) files(w http.ResponseWriter, r *http.Request) error {
	u, err := p.find(r)
	if err != nil {
		return err
	}
	files, err := u.load()
	if err != nil {
		return err
	}
	return sendZip(w, "import-"+u.at.UTC().Format("2006-01-02-1504")+".zip", files, u.at)
}

func (p *pages) export(w http.ResponseWriter, r *http.Request) error {
	b, err := p.app.Export(r.Context(), endpoint.CallerOf(r))
	if err != nil {
		return err
	}
	text, err := intake.Files(b)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	var files []intake.File
	for _, name := range intake.FileNames() {
		if data, ok := text[name]; ok {
			files = append(files, intake.File{Name: name, Data: data})
		}
	}
	now := endpoint.PageOf(r).Now
	return sendZip(w, "shop-"+now.Format("2006-01-02")+".zip", files, now)
}

// sendZip sends files as one archive to be kept. Files of one name, which only
// a faulty import has, keep their order.
func sendZip(w http.ResponseWriter, name string, files []intake.File, at time.Time) error {
	var body bytes.Buffer
	z := zip.NewWriter(&body)
	for _, x := range files {
		f, err := z.CreateHeader(&zip.FileHeader{Name: x.Name, Method: zip.Deflate, Modified: at.UTC().Truncate(2 * time.Second)})
		if err == nil {
			_, err = f.Write(x.Data)
		}
		if err != nil {
			return fmt.Errorf("pack %s: %w", x.Name, err)
		}
	}
	if err := z.Close(); err != nil {
		return fmt.Errorf("pack %s: %w", name, err)
	}
	h := w.Header()
	h.Set("Content-Type", "application/zip")
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	_, _ = body.WriteTo(w) // the browser has gone: nobody left to tell
	return nil
}
