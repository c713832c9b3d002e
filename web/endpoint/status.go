package endpoint

import (
	"net/http"
	"strconv"
	"time"

	"tagalong/internal/app"
)

// statuses are those of refusals made before the shop's rules. A refusal by
// the rules is a conflict with how the shop stands: 409.
var statuses = map[string]int{
	"badge-revoked": http.StatusForbidden, "badge-unknown": http.StatusForbidden, "badge-unreadable": http.StatusUnprocessableEntity,
	"bad-value":  http.StatusUnprocessableEntity,
	"code-empty": http.StatusUnprocessableEntity, "code-foreign": http.StatusUnprocessableEntity,
	"code-mistyped": http.StatusUnprocessableEntity, "code-wrong-kind": http.StatusUnprocessableEntity,
	"code-not-good": http.StatusForbidden, "code-shape": http.StatusUnprocessableEntity, "code-unknown": http.StatusNotFound,
	"pallet-unknown": http.StatusNotFound, "lot-unknown": http.StatusNotFound, "order-unknown": http.StatusNotFound,
	"build-unknown": http.StatusNotFound, "consignment-unknown": http.StatusNotFound, "hold-unknown": http.StatusNotFound,
	"problem-unknown": http.StatusNotFound, "nest-unknown": http.StatusNotFound, "event-unknown": http.StatusNotFound,
	"form-cross-site": http.StatusForbidden, "internal": http.StatusInternalServerError,
	"import-crowded": http.StatusServiceUnavailable, "import-expired": http.StatusGone,
	"import-empty": http.StatusUnprocessableEntity, "import-gone": http.StatusNotFound, "import-large": http.StatusRequestEntityTooLarge,
	"bearer-may-not": http.StatusForbidden, "link-ended": http.StatusGone, "link-needed": http.StatusForbidden, "link-other-consignment": http.StatusForbidden,
	"link-tries": http.StatusTooManyRequests, "link-other-order": http.StatusForbidden, "link-no-order": http.StatusUnprocessableEntity,
	"snag-unknown": http.StatusNotFound, "link-other-lot": http.StatusForbidden, "link-other-pallet": http.StatusForbidden, "link-revoked": http.StatusGone, "link-unknown": http.StatusNotFound,
	"kind-unknown": http.StatusNotFound, "malformed": http.StatusBadRequest, "method-unknown": http.StatusMethodNotAllowed,
	"needs-dock": http.StatusForbidden, "needs-sign-in": http.StatusUnauthorized, "needs-tablet": http.StatusForbidden, "own-reset": http.StatusForbidden,
	"page-unknown": http.StatusNotFound, "signer-left": http.StatusForbidden, "person-unknown": http.StatusNotFound,
	"photo-empty": http.StatusUnprocessableEntity, "photo-too-large": http.StatusRequestEntityTooLarge,
	"photo-not-a-picture": http.StatusUnsupportedMediaType, "photo-heif": http.StatusUnsupportedMediaType,
	"photo-moves": http.StatusUnprocessableEntity, "photo-too-many-pixels": http.StatusUnprocessableEntity,
	"photo-cut-short": http.StatusUnprocessableEntity, "photo-damaged": http.StatusUnprocessableEntity,
	"photo-too-often": http.StatusTooManyRequests, "photo-unknown": http.StatusUnprocessableEntity,
	"photos-too-many": http.StatusUnprocessableEntity,
	"pin-locked":      http.StatusTooManyRequests, "pin-not-set": http.StatusForbidden, "pin-shape": http.StatusUnprocessableEntity,
	"pin-twice": http.StatusUnprocessableEntity, "pin-wait": http.StatusTooManyRequests, "pin-weak": http.StatusUnprocessableEntity,
	"pin-wrong": http.StatusForbidden, "role-missing": http.StatusForbidden, "role-lacking": http.StatusForbidden, "seal-not-taken": http.StatusUnprocessableEntity,
	"server-busy": http.StatusServiceUnavailable, "signature-missing": http.StatusUnprocessableEntity, "not-signed": http.StatusUnprocessableEntity,
	"signed-twice": http.StatusUnprocessableEntity, "no-such-station": http.StatusNotFound,
	"tablet-locked": http.StatusTooManyRequests, "tablet-revoked": http.StatusUnauthorized, "tablet-unknown": http.StatusNotFound,
	"tablet-wait": http.StatusTooManyRequests, "too-large": http.StatusRequestEntityTooLarge,
	"unenrolled-tablet": http.StatusUnauthorized, "unknown-field": http.StatusUnprocessableEntity,
}

// StatusOf is the HTTP status of a refusal's code.
func StatusOf(code string) int {
	if status, ok := statuses[code]; ok {
		return status
	}
	return http.StatusConflict
}

// RetryAfter tells a program how long to wait before another try, where
// waiting helps.
func RetryAfter(w http.ResponseWriter, refused *app.Refused) {
	if refused.After > 0 {
		w.Header().Set("Retry-After", strconv.Itoa(int(refused.After/time.Second)))
	}
}
