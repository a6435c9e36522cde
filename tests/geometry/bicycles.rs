//! The eleven measured bicycles and the published benchmark (B0), as in tests/data/bicycles: the open
//! `BicycleParameters` data set, its licence beside it. Lengths in metres.

const TABLE: &str = include_str!("../data/bicycles/measured_bicycles.csv");

#[derive(Debug)]
pub(crate) struct Bicycle {
    pub(crate) case: String,
    /// Tilt of the steering axis from the vertical [rad].
    pub(crate) tilt: f64,
    pub(crate) trail: Option<f64>,
    pub(crate) wheelbase: f64,
    pub(crate) front_radius: Option<f64>,
    pub(crate) rear_radius: Option<f64>,
    pub(crate) fork_offset: Option<f64>,
    pub(crate) bar_width: Option<f64>,
    pub(crate) bar_to_front: Option<f64>,
    pub(crate) bar_to_rear: Option<f64>,
}

pub(crate) fn all() -> Vec<Bicycle> {
    let mut lines = TABLE.lines();
    let names: Vec<&str> = lines.next().unwrap().split(',').collect();
    let bicycles: Vec<_> = lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), names.len(), "{line}");
            let value = |name: &str| -> Option<f64> {
                let column = names.iter().position(|n| *n == name).unwrap();
                (!cells[column].is_empty()).then(|| cells[column].parse().unwrap())
            };
            Bicycle {
                case: cells[0].to_owned(),
                tilt: value("steer_axis_tilt_deg").unwrap().to_radians(),
                trail: value("trail_m"),
                wheelbase: value("wheelbase_m").unwrap(),
                front_radius: value("front_wheel_radius_m"),
                rear_radius: value("rear_wheel_radius_m"),
                fork_offset: value("fork_offset_m"),
                bar_width: value("handlebar_width_m"),
                bar_to_front: value("handlebar_end_to_front_hub_m"),
                bar_to_rear: value("handlebar_end_to_rear_hub_m"),
            }
        })
        .collect();
    assert_eq!(bicycles.len(), 12);
    bicycles
}
