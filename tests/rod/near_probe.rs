use neckloom::rod::{Settings, solve};
#[test]
fn probe_near() {
    let route = neckloom::read::route_file(std::path::Path::new("/tmp/me/x.ron")).unwrap();
    let t = std::time::Instant::now();
    let s = solve(&route, &Settings::default());
    println!("solve {:?} {:?}", t.elapsed(), s.branches[0].resolution);
    for (k, b) in s.branches.iter().enumerate() {
        println!("{} {:?}", route.branches[k].name, b.resolution);
        for (i, sp) in b.spans.iter().enumerate() {
            let from = &route.branches[k].lay[i].fixing.name;
            println!("  {from} L {:.1} moving {}", sp.length * 1e3, sp.moving);
            for p in [0, 9, 19, 29, 38, 40, 45] {
                let x = &b.shapes[p].spans[i];
                let contact = b.shapes[p]
                    .stations
                    .iter()
                    .filter(|q| q.at >= sp.start && q.at <= sp.end())
                    .map(|q| q.contact)
                    .fold(0.0, f64::max);
                println!(
                    "     {p} {:?} conv {} R {:.2} at {:.1} slack {:.2} T {:.2} twist {:.1} contact {:.1}",
                    s.sweep.poses[p]
                        .joints
                        .iter()
                        .map(|x| (x * 57.3).round())
                        .collect::<Vec<_>>(),
                    b.shapes[p].converged,
                    1e3 / x.curvature,
                    x.curvature_at * 1e3,
                    x.slack * 1e3,
                    x.tension,
                    x.twist.to_degrees(),
                    contact
                );
            }
        }
    }
}
