//! steering_drag
