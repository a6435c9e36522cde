//! Every dependency has a row with its reason in DEVELOPERS.md.

#[test]
fn each_has_its_reason() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |name: &str| std::fs::read_to_string(root.join(name)).unwrap();
    let (cargo, told) = (read("Cargo.toml"), read("DEVELOPERS.md"));
    let rows: Vec<&str> = told
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split(" | ").next())
        .collect();
    let mut names = 0;
    for section in ["\n[dependencies]\n", "\n[dev-dependencies]\n"] {
        let listed = cargo.split(section).nth(1).unwrap();
        for line in listed.lines().take_while(|line| !line.starts_with('[')) {
            let Some((name, _)) = line.split_once(" = ") else {
                continue;
            };
            let named = |row: &&str| row.split([',', ' ']).any(|word| word == name);
            assert!(rows.iter().any(named), "{name} has no row");
            names += 1;
        }
    }
    assert!(names > 20);
}
