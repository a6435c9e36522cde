//! study from end to end: the CSV that it goes on from, and the same as Parquet.

use std::collections::BTreeMap;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;

use super::run::{Folder, small_route};

/// A route with changes of the harness and of the machine, one of which cannot be made whole.
fn with_changes(length: f64) -> String {
    small_route(length).replace(
        "branches: [(",
        "changes: { \"up\": [Move(what: \"T2\", by: (0, 0, 10))], \"longer\": [Lengthen(to: \"T2\", by: 20)],
          \"größer, \\\"weiter\\\"\": [Travel(what: \"steering\", from: \"-40 deg\", to: \"40 deg\")] }, branches: [(",
    )
}

/// Every combination of three shares each: `count` variants in all.
fn grid(count: u32) -> String {
    let mut table = String::from("variant,up,longer,\"größer, \"\"weiter\"\"\"\n");
    for i in 0..count {
        let share = |n: u32, of: u32| f64::from(n % of) / f64::from(of - 1);
        table.push_str(&format!(
            "\"nr {i}, ½\",{},{},{}\n",
            share(i, 7),
            share(i / 7, 5),
            share(i, 3)
        ));
    }
    table
}

/// The lines of a CSV by the number of their row, and the line of names.
fn lines(folder: &Folder, name: &str) -> (Vec<String>, BTreeMap<i64, Vec<String>>) {
    let bytes = folder.read(name);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(bytes.as_slice());
    let mut all = reader.records().map(|record| {
        record
            .unwrap()
            .iter()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    });
    let head = all.next().unwrap();
    (
        head,
        all.map(|cells| (cells[0].parse().unwrap(), cells))
            .collect(),
    )
}

/// The rows of a Parquet file: names of the columns with what each holds.
fn rows(folder: &Folder, name: &str) -> Vec<Vec<(String, Field)>> {
    let file = std::fs::File::open(folder.path(name)).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let rows = reader.get_row_iter(None).unwrap();
    rows.map(|row| {
        let row = row.unwrap();
        row.get_column_iter()
            .map(|(name, field)| (name.clone(), field.clone()))
            .collect()
    })
    .collect()
}

/// Holds a Parquet file to the CSV beside it: the same rows, to the last digit, with an empty cell as null.
fn assert_the_same(folder: &Folder, csv: &str, parquet: &str) {
    let (head, lines) = lines(folder, csv);
    let rows = rows(folder, parquet);
    assert_eq!(rows.len(), lines.len());
    for (row, (number, cells)) in rows.iter().zip(&lines) {
        assert_eq!(row[0].1, Field::Long(*number), "rows stand by their number");
        assert_eq!(row.len(), head.len());
        for (((name, field), title), cell) in row.iter().zip(&head).zip(cells) {
            assert_eq!(name, title);
            match field {
                Field::Null => assert_eq!(cell, "", "{name}"),
                Field::Str(text) => assert_eq!(text, cell, "{name}"),
                Field::Long(whole) => assert_eq!(&whole.to_string(), cell, "{name}"),
                Field::Double(value) => {
                    let decimals = cell.split_once('.').map_or(0, |(_, part)| part.len());
                    assert_eq!(&format!("{value:.decimals$}"), cell, "{name}");
                    assert_eq!(value.to_bits(), cell.parse::<f64>().unwrap().to_bits());
                }
                other => panic!("{name}: {other:?}"),
            }
        }
    }
}

#[test]
fn a_study_goes_on_where_it_was_and_parts_make_the_whole() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    folder.write("t.csv", "variant,up,longer\na,0,0\nb,1,0\nc,1,1\nd,2,0.5\n");
    let rows = |name: &str| {
        let text = String::from_utf8(folder.read(name)).unwrap();
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        lines.sort();
        lines
    };
    let ran = folder.run("study t.csv a.ron -o all.csv");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let all = rows("all.csv");
    assert_eq!(all.len(), 5);
    // Cut in the middle of a line, as a sudden end leaves it.
    let bytes = folder.read("all.csv");
    let two = bytes
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .nth(2)
        .unwrap()
        .0;
    std::fs::write(folder.path("cut.csv"), &bytes[..two + 20]).unwrap();
    let ran = folder.run("study t.csv a.ron -o cut.csv");
    assert!(ran.out.contains("2 were there already"), "{}", ran.out);
    assert_eq!(rows("cut.csv"), all);
    let again = folder.read("cut.csv");
    folder.run("study t.csv a.ron -o cut.csv");
    assert_eq!(folder.read("cut.csv"), again, "nothing is done twice");
    // Parts, one behind the other.
    folder.run("study t.csv a.ron -o p1.csv --part 1/2");
    folder.run("study t.csv a.ron -o p2.csv --part 2/2");
    let joined = [folder.read("p1.csv"), folder.read("p2.csv")].concat();
    std::fs::write(folder.path("joined.csv"), joined).unwrap();
    assert_eq!(rows("joined.csv"), all);
    folder.write("other.csv", "some,other\ntable,1\n");
    assert_eq!(folder.run("study t.csv a.ron -o other.csv").status, 2);
}

#[test]
fn parquet_holds_what_the_csv_holds() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    // A share that cannot be made leaves most cells empty and says why.
    folder.write("t.csv", &format!("{}odd,1,-0,90\n", grid(11)));
    let ran = folder.run("study t.csv a.ron -o all.csv --parquet --quiet");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_the_same(&folder, "all.csv", "all.parquet");
    let (head, lines) = lines(&folder, "all.csv");
    let why = head.iter().position(|name| name == "why_not").unwrap();
    assert_eq!(lines.len(), 12);
    assert!(lines[&1][why].is_empty());
    // It can be asked for later, and nothing is solved for it.
    let ran = folder.run("study t.csv a.ron -o all.csv --parquet later.parquet");
    assert!(ran.out.contains("; 0 solved"), "{}", ran.out);
    assert_eq!(folder.read("later.parquet"), folder.read("all.parquet"));
    // Another table's results are not written over.
    folder.write("other.csv", "some,other\ntable,1\nand half a li");
    let ran = folder.run("study t.csv a.ron -o other.csv --parquet");
    assert_eq!(ran.status, 2);
    assert_eq!(
        folder.read("other.csv"),
        b"some,other\ntable,1\nand half a li"
    );
    assert!(!folder.path("other.parquet").exists());
}

#[test]
fn parts_as_parquet_make_the_whole() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    folder.write("b.ron", &with_changes(260.0));
    folder.write("t.csv", &grid(9));
    folder.run("study t.csv a.ron b.ron -o all.csv --parquet --quiet");
    let mut parts = Vec::new();
    for part in 1..=4 {
        let ran = folder.run(&format!(
            "study t.csv a.ron b.ron -o p{part}.csv --parquet --part {part}/4 --quiet"
        ));
        assert_eq!(ran.status, 0, "{}", ran.err);
        parts.extend(rows(&folder, &format!("p{part}.parquet")));
    }
    let number = |row: &Vec<(String, Field)>| match row[0].1 {
        Field::Long(number) => number,
        _ => panic!("{row:?}"),
    };
    parts.sort_by_key(number);
    let whole = rows(&folder, "all.parquet");
    assert_eq!(whole.len(), 18);
    assert_eq!(parts, whole);
    // As CSV they are put one behind the other, and made Parquet from there.
    let all: Vec<u8> = (1..=4)
        .flat_map(|part| folder.read(&format!("p{part}.csv")))
        .collect();
    std::fs::write(folder.path("joined.csv"), all).unwrap();
    let ran = folder.run("study t.csv a.ron b.ron -o joined.csv --parquet --quiet");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert_eq!(folder.read("joined.parquet"), folder.read("all.parquet"));
}

/// How many routes are solved grows with the variants and no faster, and what has the same machine shares it.
#[test]
fn what_is_solved_grows_as_the_variants_do() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    let solved = |count: u32, only: &str| -> usize {
        let (table, out) = (format!("t{count}{only}.csv"), format!("r{count}{only}.csv"));
        let text = match only {
            "harness" => {
                let shares = (0..count).map(|i| format!("{}\n", f64::from(i) / f64::from(count)));
                format!("longer\n{}", shares.collect::<String>())
            }
            _ => grid(count),
        };
        folder.write(&table, &text);
        let ran = folder.run(&format!("study {table} a.ron -o {out}"));
        let told = ran.out.split("; ").nth(1).unwrap();
        told.split(' ').next().unwrap().parse().unwrap()
    };
    // Of the grid so many changes are made to the same share by several variants: each of them once by itself.
    for (count, singles) in [(6, 2), (12, 7), (24, 11)] {
        // The route itself, and each variant.
        assert_eq!(solved(count, "harness"), 1 + count as usize);
        // Beside these two states of the machine that it does not have as it is.
        assert_eq!(solved(count, "machine"), 3 + singles + count as usize);
    }
}

/// Ctrl-C leaves whole files behind, and going on from them gives the same bytes as never having been stopped.
#[cfg(unix)]
#[test]
fn a_study_that_is_stopped_goes_on_to_the_same_bytes() {
    use super::run::interrupt;

    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    folder.write("t.csv", &grid(30));
    folder.run("study t.csv a.ron -o whole.csv --parquet --quiet");
    let child = folder
        .command("study t.csv a.ron -o cut.csv --parquet --threads 1")
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let began = std::time::Instant::now();
    let size = || std::fs::metadata(folder.path("cut.csv")).map_or(0, |meta| meta.len());
    while size() < 400 && began.elapsed().as_secs() < 60 {
        std::thread::sleep(std::time::Duration::from_micros(500));
    }
    interrupt(&child);
    let ran = child.wait_with_output().unwrap();
    let told = String::from_utf8(ran.stdout).unwrap();
    assert_eq!(ran.status.code(), Some(130), "{told}");
    assert!(
        told.contains("of 30 variants; run it again to go on"),
        "{told}"
    );
    assert_the_same(&folder, "cut.csv", "cut.parquet");
    assert!(rows(&folder, "cut.parquet").len() < 30);
    let ran = folder.run("study t.csv a.ron -o cut.csv --parquet");
    assert!(ran.out.contains("were there already"), "{}", ran.out);
    assert_the_same(&folder, "cut.csv", "cut.parquet");
    assert_eq!(folder.read("cut.parquet"), folder.read("whole.parquet"));
}
