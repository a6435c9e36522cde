//! The local page, asked over its own wire as a browser asks.

mod chromium;
mod client;
mod opened;

mod asks; // questions: the command line's own answers, cancelled ones
mod attacks; // token, host, origin, paths, sizes, nonsense
mod begins; // an example, a blank
mod browser; // in a real browser: seen, changed, saved, printed; barriers, both lights, both sizes
mod calls; // every call; numbers equal to `check --json`
mod drafts; // undo after a kill, two tabs, a file changed on disk, saving
mod drags; // a waypoint, a part; drawn less finely meanwhile
mod edits; // what an edit does to the text, and what is refused
mod plays; // a joint from stop to stop
mod prints; // sheet, picture, tables
mod questions; // asked, stopped, kept
mod readings; // slack by hand, what agrees
mod said; // what was chosen or written and not used yet stays
mod scans; // laid by touched points, touched for a point, drawn with fewer triangles
mod tries; // edits tried while dragging, and ended
mod views; // the swept room, the route as opened, the arrow of a fixing, no solids at all
