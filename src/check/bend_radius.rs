//! bend_radius
