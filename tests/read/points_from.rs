//! Points and taped distances from tables.

use std::path::Path;

use neckloom::read::{Faults, places_file, places_table, route_file, route_text};
use neckloom::route::Route;
use tempfile::TempDir;

/// A route of one span; `head` stands before its bodies.
fn route(head: &str) -> String {
    format!(
        r#"(
    format: 1, title: "One span", units: (length: "mm", temperature: "degC"), tolerance: 3, tape_error: 6,
    {head}
    bodies: {{ "frame": Fixed }},
    branches: [(name: "neck", diameter: 8, lay: [
        Tie(name: "T1", on: "frame", at: "head", facing: (1, 0, 0)),
        Tie(name: "T2", on: "frame", at: "plug", slack: 20),
    ])],
)"#
    )
}

fn read(folder: &TempDir, head: &str) -> Result<Route, Faults> {
    let path = folder.path().join("a.ron");
    std::fs::write(&path, route(head)).unwrap();
    route_file(&path)
}

fn write(folder: &TempDir, name: &str, bytes: impl AsRef<[u8]>) {
    std::fs::write(folder.path().join(name), bytes).unwrap();
}

/// The same points in a route file and in tables as different programs write them: the routes are equal.
#[test]
fn a_table_says_what_the_route_file_says() {
    let folder = TempDir::new().unwrap();
    let points = r#"points: {
        "head": (-12.5, 3, 40), "peg": (-330, 260, -520), "axle": (-1010, 0, -560), "stem": (0, 0, 0),
        "plug": Tape(from: [("stem", 761), ("peg", 646), ("axle", 553)], side: "left"),
    },"#;
    let inline = read(&folder, points).unwrap();
    let tables: [(&str, String); 7] = [
        ("plain", "name,x,y,z,from,distance,side\nhead,-12.5,3,40,,,\npeg,-330,260,-520,,,\naxle,-1010,0,-560,,,\n\
          stem,0,0,0,,,\nplug,,,,stem,761,left\nplug,,,,peg,646,\nplug,,,,axle,553,\n".to_owned()),
        ("another order, blanks, a note", "note,side,z,y,x,distance,from,name\n,,40,3, -12.5 ,,,head\n,,-520,260,-330,,,peg\n\
          rear,,-560,0,-1010,,,axle\n,,0,0,0,,,stem\n,LEFT,,,,761,stem,plug\n,,,,,646,peg,plug\n,left,,,,553,axle,plug\n".to_owned()),
        ("units in the header", "name,x [cm],y (mm),z_mm,from,distance m,side\nhead,-1.25,3,40,,,\npeg,-33,260,-520,,,\n\
          axle,-101,0,-560,,,\nstem,0,0,0,,,\nplug,,,,stem,0.761,left\nplug,,,,peg,0.646,\nplug,,,,axle,0.553,\n".to_owned()),
        ("units in cells", "Point,Forward,Left,Up,from,distance,side\nhead,\"-12.5 mm\",0.3 cm,0.04 m,,,\npeg,-330,260,-520,,,\n\
          axle,-1010,0,-560,,,\nstem,0,0,0,,,\nplug,,,,stem,761,left\nplug,,,,peg,0.646 m,\nplug,,,,axle,553,\n".to_owned()),
        ("semicolons and decimal commas", "\u{feff}name;x;y;z;from;distance;side\r\nhead;-12,5;3,0;40;;;\r\npeg;-330;260;-520;;;\r\n\
          axle;-1010;0;-560;;;\r\nstem;0;0;0;;;\r\n;;;;;;\r\nplug;;;;stem;761,0;left\r\nplug;;;;peg;646;\r\nplug;;;;axle;553;\r\n".to_owned()),
        ("a typographic minus", "name,x,y,z,from,distance,side\nhead,−12.5,3,40,,,\npeg,−330,260,−520,,,\naxle,−1010,0,−560,,,\n\
          stem,0,0,0,,,\nplug,,,,stem,761,left\nplug,,,,peg,646,\nplug,,,,axle,553,\n".to_owned()),
        ("tabs and quotes", "name\tx\ty\tz\tfrom\tdistance\tside\n\"head\"\t-12.5\t\"3\"\t40\npeg\t-330\t260\t-520\naxle\t-1010\t0\t-560\n\
          stem\t0\t0\t0\nplug\t\t\t\tstem\t761\tleft\nplug\t\t\t\tpeg\t646\nplug\t\t\t\taxle\t553\n".to_owned()),
    ];
    for (what, table) in tables {
        write(&folder, "points.csv", &table);
        let imported =
            read(&folder, "points_from: \"points.csv\",").unwrap_or_else(|f| panic!("{what}: {f}"));
        for (a, b) in imported.places.iter().zip(&inline.places) {
            assert!((a.at - b.at).norm() < 1e-12, "{what}: {a:?} {b:?}");
            assert_eq!(a.name, b.name);
        }
        assert_eq!(imported.branches, inline.branches, "{what}");
    }
}

/// Points of the route file and of several tables refer to each other; inches are those of the route file.
#[test]
fn several_tables_and_the_route_file_together() {
    let folder = TempDir::new().unwrap();
    std::fs::create_dir(folder.path().join("measured")).unwrap();
    write(
        &folder,
        "measured/known.csv",
        "name,x,y,z\nhead,1.5,\"2 3/8\",0\npeg,-13,10,-20\n",
    );
    write(
        &folder,
        "measured/taped.csv",
        "name,from,distance,side\nplug,head,20,below\nplug,peg,15,\nplug,axle,30,\n",
    );
    let head = "points_from: [\"measured/known.csv\", \"measured/taped.csv\"], points: { \"axle\": (-40, 0, -22) },";
    let path = folder.path().join("a.ron");
    std::fs::write(
        &path,
        route(head)
            .replace("length: \"mm\"", "length: \"in\"")
            .replace(
                "tolerance: 3, tape_error: 6",
                "tolerance: 0.1, tape_error: 0.2",
            ),
    )
    .unwrap();
    let route = route_file(&path).unwrap_or_else(|faults| panic!("{faults}"));
    let inch = 0.0254;
    assert!((route.places[0].at.y - 2.375 * inch).abs() < 1e-12);
    let plug = route.places[1].at;
    for (from, distance) in [
        ([1.5, 2.375, 0.0], 20.0),
        ([-13.0, 10.0, -20.0], 15.0),
        ([-40.0, 0.0, -22.0], 30.0),
    ] {
        let from = nalgebra::Point3::from(from.map(|v: f64| v * inch));
        assert!(((plug - from).norm() - distance * inch).abs() < 1e-9);
    }
}

/// One broken table, one fault: its line, its column, what it says.
#[test]
fn faults_name_file_line_and_column() {
    let folder = TempDir::new().unwrap();
    let good = "points: { \"head\": (0, 0, 0), \"plug\": (-300, 0, 0) },";
    let cases: [(&str, (usize, usize), &str); 24] = [
        ("", (1, 1), "this file is empty"),
        ("1,2,3,4\n", (1, 1), "there is no column \"1\""),
        (
            "name,x,y,zz\na,1,2,3\n",
            (1, 10),
            "there is no column \"zz\"",
        ),
        (
            "name,x,y,y,z\na,1,2,3,4\n",
            (1, 10),
            "the column \"y\" stands here twice",
        ),
        ("x,y,z\n1,2,3\n", (1, 1), "no column `name`"),
        (
            "name,x,y\na,1,2\n",
            (1, 1),
            "neither x, y, z nor from, distance",
        ),
        (
            "name,x [kg],y,z\na,1,2,3\n",
            (1, 6),
            "the column \"x\" cannot be in \"kg\"",
        ),
        (
            "name [mm],x,y,z\na,1,2,3\n",
            (1, 1),
            "the column \"name\" cannot be in \"mm\"",
        ),
        (
            "name,x,y,z\nÄÖ,1,two,3\n",
            (2, 6),
            "\"two\" does not begin with a number",
        ),
        ("name,x,y,z\na,1,nan,3\n", (2, 5), "nan"),
        (
            "name,x,y,z\na,1,1e999,3\n",
            (2, 5),
            "not a number that can be measured",
        ),
        ("name,x,y,z\na,1,30 deg,3\n", (2, 5), "is an angle"),
        (
            "name,x,y,z\na,1,\"2,5\",3\n",
            (2, 5),
            "has a comma in its number",
        ),
        (
            "name,x,y,z\na,1,2,5,3\n",
            (2, 9),
            "\"3\" stands outside the named columns",
        ),
        ("name,x,y,z\n\n\na,1,,3\n", (4, 1), "\"a\" lacks its y"),
        (
            "name,x,y,z\na,,,\n",
            (2, 1),
            "neither coordinates nor a distance",
        ),
        ("name,x,y,z\n,1,2,3\n", (2, 1), "this line has no name"),
        (
            "name,x,y,z\na,1,2,3\nb,1,2,3\na,1,2,3\n",
            (4, 1),
            "the point \"a\" is given twice, first on line 2 of",
        ),
        (
            "name,x,y,z\nplug,1,2,3\n",
            (2, 1),
            "the point \"plug\" is given twice, first on line 3",
        ),
        (
            "name,x,y,z\n\"a,1,2,3\nb,1,2,3\n",
            (2, 1),
            "runs over the end of its line",
        ),
        (
            "name,x,y,z,from,distance\na,1,2,3,head,40\n",
            (2, 1),
            "has coordinates and a taped distance",
        ),
        (
            "name,from,distance\na,head,40\na,peg,50\na,plug,60\n",
            (3, 3),
            "there is no point \"peg\"",
        ),
        (
            "name,from,distance,side\na,head,40,left\na,plug,50,right\na,plug,60,\n",
            (3, 11),
            "on another side here than on line 2 of",
        ),
        (
            "name,from,distance,side\na,head,-40,left\na,plug,50,\na,plug,60,\n",
            (2, 8),
            "-40 is negative",
        ),
    ];
    for (table, place, message) in cases {
        write(&folder, "points.csv", table);
        let faults =
            read(&folder, &format!("{good} points_from: \"points.csv\",")).expect_err(message);
        let found = faults
            .faults
            .iter()
            .find(|fault| fault.message.contains(message));
        let first = found.unwrap_or_else(|| panic!("{table:?}: {faults}"));
        assert_eq!(first.place, Some(place), "{table:?}: {faults}");
        assert!(
            first
                .file
                .as_ref()
                .is_some_and(|file| file.ends_with("points.csv")),
            "{faults}"
        );
        assert!(!first.cure.is_empty());
        assert!(
            faults
                .to_string()
                .contains(&format!("points.csv:{}:{}: ", place.0, place.1)),
            "{faults}"
        );
    }
}

#[test]
fn faults_of_the_field_stand_in_the_route_file() {
    let folder = TempDir::new().unwrap();
    write(
        &folder,
        "points.csv",
        "name,x,y,z\nhead,0,0,0\nplug,-300,0,0\n",
    );
    write(&folder, "wide.csv", [0xff, 0xfe, b'n', 0]);
    write(&folder, "latin.csv", b"name,x,y,z\nh\xf6he,0,0,0\n");
    let cases = [
        (
            "points_from: \"gone.csv\",",
            "gone.csv: there is no such file",
        ),
        (
            "points_from: [\"points.csv\", \"points.csv\"],",
            "\"points.csv\" is named twice",
        ),
        ("points_from: 3,", "a list is wanted here"),
        ("points_from: [3],", "`points_from` is a text"),
        ("points_from: \".\",", "this is a folder, not a CSV file"),
        ("points_from: \"wide.csv\",", "is not UTF-8"),
        (
            "points_from: \"latin.csv\",",
            "latin.csv:2:2: this file is not text",
        ),
    ];
    for (head, message) in cases {
        let faults = read(&folder, head).expect_err(message);
        let found = faults
            .faults
            .iter()
            .find(|fault| fault.message.contains(message));
        let fault = found.unwrap_or_else(|| panic!("{message}: {faults}"));
        assert!(
            fault.file.is_none() && fault.place.is_some_and(|place| place.0 == 3),
            "{faults}"
        );
    }
    // A text without a folder of its own counts from where the program runs.
    assert!(route_text(&route("points_from: \"gone.csv\","), "a.ron").is_err());
}

/// A table alone gives what `place` gives for the same points in a route file.
#[test]
fn places_of_a_table() {
    let table = "name,x,y,z,from,distance,side\nstem,0,0,0,,,\npeg,-330,260,-520,,,\naxle,-1010,0,-560,,,\nright,-330,-260,-520,,,\n\
                 plug,,,,stem,761,left\nplug,,,,peg,646,\nplug,,,,right,698,\nplug,,,,axle,593,\n";
    let of_table = places_table(table, "a.csv").unwrap();
    let folder = TempDir::new().unwrap();
    write(&folder, "tape.CSV", table);
    write(
        &folder,
        "a.ron",
        "(format: 1, units: (length: \"mm\", temperature: \"degC\"), tape_error: 6, points_from: \"tape.CSV\")",
    );
    let of_file = places_file(&folder.path().join("tape.CSV")).unwrap();
    let of_route = places_file(&folder.path().join("a.ron")).unwrap();
    assert_eq!(of_table.points, of_file.points);
    assert_eq!(of_table.points, of_route.points);
    // The axle was taped 40 mm too long: the reading is named as it is for any taped point.
    let plug = &of_table.points[0];
    assert_eq!(plug.readings.len(), 4);
    assert!(plug.residual > 0.003, "{plug:?}");
    assert_eq!(of_table.assumed, ["lengths without a unit are in mm"]);
    for (table, message) in [
        ("name,x,y,z\na,1,2,3\n", "there is no taped point here"),
        ("", "this file is empty"),
        ("name,from,distance\na,b,3\n", "there is no point \"b\""),
    ] {
        let faults = places_table(table, "a.csv").unwrap_err();
        assert!(faults.to_string().contains(message), "{faults}");
        assert!(faults.to_string().starts_with("a.csv:"), "{faults}");
    }
    assert!(places_file(Path::new("gone.csv")).is_err());
}

/// Damaged tables never panic, and never give a route without a fault that the whole table did not.
#[test]
fn cut_and_changed_tables_do_not_panic() {
    let table = "\u{feff}name;x [mm];y;z;from;distance;side\r\n\"he;ad\";-12,5;\"3\"\"\";40;;;\r\nplug;;;;stem;761,0;left\r\n";
    for end in (0..table.len()).filter(|&end| table.is_char_boundary(end)) {
        let _cut = places_table(&table[..end], "a.csv");
        for put in ["\"", ";", "\n", "\u{0}", "é", ",", "sep="] {
            let changed = format!("{}{put}{}", &table[..end], &table[end..]);
            let _changed = places_table(&changed, "a.csv");
        }
    }
}
