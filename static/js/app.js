// The one script that pages load. Each module does one thing and listens on the document, so parts
// of a page that htmx swaps in later need no starting.
import "./alarm.js";
import "./bench.js";
import "./countdown.js";
import "./idle-lock.js";
import "./once.js";
import "./photo.js";
import "./pinpad.js";
import "./redact.js";
import "./scan.js";
import "./stepper.js";
import "./undo.js";
import "./usual.js";
