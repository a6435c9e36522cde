//! One small broken file, one fault: its place, its message and its cure.

use neckloom::read::{Faults, route_file, route_text};

use super::parses::small;

const LAY: &str = "Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),
Tie(name: \"B\", on: \"frame\", at: (200, 0, 0), slack: 9),";

fn faults(text: &str) -> Faults {
    match route_text(text, "f.ron") {
        Ok(_) => panic!("no fault found in:\n{text}"),
        Err(faults) => faults,
    }
}

/// Checks that `text` has exactly one fault, at the place of `mark` (its first character), with a message and a cure
/// that contain what is given.
#[track_caller]
fn one(text: &str, mark: &str, message: &str, cure: &str) {
    let faults = faults(text);
    let [fault] = faults.faults.as_slice() else {
        panic!("not one fault:\n{faults}");
    };
    let at = text.find(mark).expect("the mark stands in the text");
    let line = 1 + text[..at].matches('\n').count();
    let column = 1 + text[..at].chars().rev().take_while(|&c| c != '\n').count();
    assert_eq!(fault.place, Some((line, column)), "\n{faults}\n{text}");
    assert!(fault.message.contains(message), "\n{faults}");
    assert!(fault.cure.contains(cure), "\n{faults}");
}

fn fields(fields: &str) -> String {
    small(fields, LAY)
}

fn lay(lay: &str) -> String {
    small("", lay)
}

/// `LAY` with its second fixing given `more` fields.
fn tie(more: &str) -> String {
    lay(&format!(
        "Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),
Tie(name: \"B\", on: \"frame\", at: (200, 0, 0), {more}),"
    ))
}

#[test]
fn the_frame_of_these_tests_is_sound() {
    for text in [fields(""), tie("slack: 9"), lay(LAY)] {
        route_text(&text, "f").unwrap_or_else(|faults| panic!("{faults}"));
    }
}

#[test]
fn shown_as_file_line_column_message_and_cure() {
    let text = fields("titel: \"x\",");
    let shown = faults(&text).to_string();
    assert_eq!(
        shown,
        "f.ron:2:61: a route has no field `titel`\n    did you mean \"title\"? its fields are: format, title, units, \
         tolerance, tape_error, points, points_from, bodies, parts, library, wires, circuits, branches, splices, duty, limits, changes"
    );
}

#[test]
fn unknown_fields() {
    one(
        &tie("slak: 9"),
        "slak",
        "a Tie has no field `slak`",
        "did you mean \"slack\"?",
    );
    one(
        &tie("finish: \"tin\""),
        "finish",
        "a Tie has no field",
        "its fields are",
    );
    one(
        &fields("units: (lenght: \"mm\", temperature: \"degC\"),"),
        "lenght",
        "no field `lenght`",
        "\"length\"",
    );
    let part = |shape: &str| {
        fields(&format!(
            "parts: [(name: \"p\", on: \"frame\", shape: {shape})],"
        ))
    };
    one(
        &part("Ball(center: (0, 0, 9), centre: (0, 0, 9), diameter: 4)"),
        "center",
        "a ball has no field `center`",
        "did you mean \"centre\"?",
    );
    let limit =
        fields("limits: { \"twist\": (value: \"30 deg/100 mm\", why: \"x\", who: \"me\") },");
    one(
        &limit,
        "who",
        "a limit has no field `who`",
        "did you mean \"why\"?",
    );
}

#[test]
fn missing_fields() {
    one(
        &lay("Tie(name: \"A\", at: (0, 0, 0)),\nTie(name: \"B\", on: \"frame\", at: (9, 0, 0)),"),
        "Tie(name: \"A\"",
        "a Tie lacks its `on`",
        "on: \"name\"",
    );
    one(
        &fields("limits: { \"twist\": (value: \"30 deg/100 mm\") },"),
        "(value",
        "a limit lacks its `why`",
        "the reason",
    );
    one(
        "(\n  format: 1,\n  bodies: {\"frame\": Fixed},\n)",
        "(",
        "a route lacks its `branches`",
        "at least one branch",
    );
    let text = fields("").replace("format: 1,", "");
    one(&text, "(", "a route lacks its `format`", "format: 1");
    let text = fields("").replace("diameter: 8,", "");
    one(
        &text,
        "(name: \"b\"",
        "neither `diameter` nor `wires`",
        "calipers",
    );
}

#[test]
fn unknown_names() {
    let body = LAY.replacen("\"frame\"", "\"frme\"", 1);
    one(
        &lay(&body),
        "\"frme\"",
        "there is no body \"frme\"",
        "did you mean \"frame\"? known are: frame",
    );
    let point = LAY.replacen("(0, 0, 0)", "\"hed\"", 1);
    one(
        &small(
            "points: {\"head\": (0, 0, 0), \"tail\": (1, 1, 1)},",
            &point,
        ),
        "\"hed\"",
        "there is no point \"hed\"",
        "did you mean \"head\"? known are: head, tail",
    );
    let wires = fields("").replace("diameter: 8", "diameter: 8, wires: [\"lmp\"]");
    one(
        &wires,
        "\"lmp\"",
        "there is no wire \"lmp\"",
        "none is defined",
    );
    one(
        &fields("changes: {\"c\": [Move(what: \"bars\", by: (0, 0, 1))]},"),
        "\"bars\"",
        "there is no part, point, fixing or body \"bars\"",
        "known are",
    );
    one(
        &fields("limits: { \"bend radius mving\": (value: 9, why: \"x\") },"),
        "\"bend radius mving\"",
        "there is no limit",
        "did you mean \"bend radius moving\"? limits are: bend radius moving, bend radius still",
    );
    one(
        &lay(&LAY.replacen("Tie", "Tye", 1)),
        "Tye",
        "there is no fixing `Tye`",
        "did you mean \"Tie\"?",
    );
    one(
        &fields(
            "parts: [(name: \"p\", on: \"frame\", shape: Sphere(centre: (0, 0, 0), diameter: 4))],",
        ),
        "Sphere",
        "there is no shape `Sphere`",
        "Ball",
    );
    let cover = fields("").replace(
        "diameter: 8",
        "diameter: 8, cover: (kind: \"braidd\", wall: 1)",
    );
    one(
        &cover,
        "\"braidd\"",
        "`kind` cannot be \"braidd\"",
        "did you mean \"braid\"?",
    );
}

#[test]
fn duplicates() {
    one(
        &fields("points: {\"p\": (0, 0, 0),\n  \"p\" : (1, 0, 0)},"),
        "\"p\" :",
        "\"p\" is given twice, first on line 2",
        "another name",
    );
    one(
        &lay(&LAY.replace("\"B\"", "\"A\" ")),
        "\"A\" ",
        "the fixing \"A\" is given twice",
        "another name",
    );
    one(
        &fields("title: \"again\","),
        "title: \"again\"",
        "`title` is given twice",
        "delete one",
    );
    let part = "(name: \"p\", on: \"frame\", shape: Ball(centre: (0, 0, 0), diameter: 4))";
    one(
        &fields(&format!(
            "parts: [{part}, {}],",
            part.replace("\"p\"", "\"p\" ")
        )),
        "\"p\" ",
        "the part \"p\" is given twice",
        "another name",
    );
    let branch = "(name: \"b\", diameter: 8, lay: [";
    let text = fields("").replace("branches: [", &format!("branches: [{branch}Tie(name: \"C\", on: \"frame\", at: (0, 9, 0)), Tie(name: \"D\", on: \"frame\", at: (99, 9, 0))]),\n"));
    let second = text.rfind("\"b\"").unwrap();
    let found = faults(&text);
    assert_eq!(found.faults.len(), 1, "{found}");
    let line = 1 + text[..second].matches('\n').count();
    assert_eq!(found.faults[0].place.unwrap().0, line);
    let text = fields("").replace("\"frame\": Fixed", "\"frame\": Fixed, \"frame\" : Fixed");
    one(
        &text,
        "\"frame\" :",
        "\"frame\" is given twice",
        "another name",
    );
    one(
        &fields(
            "wires: {\"w\": (size: \"1 mm2\", strands: 19, outside: 2), \"w\" : (size: \"1 mm2\", strands: 19, outside: 2)},",
        ),
        "\"w\" :",
        "\"w\" is given twice",
        "",
    );
}

#[test]
fn bodies_and_joints() {
    let with = |bodies: &str| {
        fields("").replace("\"frame\": Fixed", &format!("\"frame\": Fixed, {bodies}"))
    };
    let turns = |rest: &str| {
        with(&format!(
            "\"s\": Turns(on: \"frame\", through: (0, 0, 0), {rest})"
        ))
    };
    let range = "from: \"-30 deg\", to: \"30 deg\"";
    one(
        &with(&format!(
            "\"a\": Turns(on: \"b\", through: (0, 0, 0), rake: \"1 deg\", {range}), \"b\": Slides(on: \"a\", along: (0, 0, 1), from: 0, to: 1)"
        )),
        "\"a\", along",
        "the bodies \"a\", \"b\" move on each other in a loop",
        "Fixed",
    );
    one(
        &with("\"a\": Slides(on: \"a\" , along: (0, 0, 1), from: 0, to: 1)"),
        "\"a\" ,",
        "moves on itself",
        "Fixed",
    );
    one(
        &with("\"a\": Slides(on: \"b\", along: (0, 0, 1), from: 0, to: 1)"),
        "\"b\"",
        "there is no body \"b\"",
        "known are: frame, a",
    );
    one(
        &with("\"a\": Slides(on: \"frame\", along: (0, 0, 1), from: 2, to: 1)"),
        "2, to",
        "`from` (2 mm) is above `to` (1 mm)",
        "exchange",
    );
    one(
        &with("\"a\": Slides(on: \"frame\", along: (0, 0, 0), from: 0, to: 1)"),
        "(0, 0, 0), from",
        "`along` has no length",
        "direction",
    );
    one(
        &turns(&format!("rake: \"30 mm\", {range}")),
        "\"30 mm\"",
        "\"30 mm\" is a length, but an angle is wanted",
        "deg",
    );
    one(
        &turns(&format!("rake: 30, {range}")),
        "30, from",
        "`rake` is the bare number 30, without a unit",
        "\"30 deg\"",
    );
    one(
        &turns(&format!("rake: \"30 deg\", axis: (0, 0, 1), {range}")),
        "(0, 0, 1), from",
        "both `rake` and `axis`",
        "delete one",
    );
    one(
        &turns(range),
        "Turns(",
        "lacks its `rake` or `axis`",
        "rake: \"30 deg\"",
    );
    one(
        &turns(&format!("rake: \"120 deg\", {range}")),
        "\"120 deg\"",
        "`rake` is 120°",
        "from the vertical",
    );
    one(
        &turns(&format!("axis: (0, 0, 0), {range}")),
        "(0, 0, 0), from",
        "`axis` has no length",
        "",
    );
    one(
        &with("\"a\": Fixed(on: \"frame\")"),
        "Fixed(on",
        "`Fixed` has no fields",
        "Turns",
    );
    one(
        &with("\"a\": Rotates(on: \"frame\")"),
        "Rotates",
        "there is no joint `Rotates`",
        "Fixed, Turns, Slides",
    );
}

#[test]
fn numbers_and_units() {
    one(
        &tie("length: \"30 deg\""),
        "\"30 deg\"",
        "\"30 deg\" is an angle, but a length is wanted here",
        "mm, cm, m, in, ft",
    );
    one(
        &tie("length: \"12 furlong\""),
        "\"12 furlong\"",
        "the unit \"furlong\" is not known",
        "mm",
    );
    one(
        &tie("length: \"12 MM\""),
        "\"12 MM\"",
        "the unit \"MM\" is not known",
        "write \"mm\"",
    );
    one(&tie("length: \"12\""), "\"12\"", "has no unit", "such as");
    one(
        &tie("length: \"1,5 in\""),
        "\"1,5 in\"",
        "has a comma in its number",
        "decimal point",
    );
    one(
        &tie("length: 12mm"),
        "12mm",
        "`12mm` is not a number",
        "in quotes: \"12 mm\"",
    );
    one(&tie("length: -5"), "-5", "-5 is negative", "above zero");
    one(
        &tie("length: 0"),
        "0),\n    ])",
        "0 is not above zero",
        "above zero",
    );
    one(&tie("slack: -1"), "-1", "-1 is negative", "zero or more");
    one(
        &tie("length: NaN"),
        "NaN",
        "NaN is not a number that can be measured",
        "",
    );
    one(
        &tie("length: inf"),
        "inf",
        "inf is not a number that can be measured",
        "",
    );
    one(
        &tie("length: 1e999"),
        "1e999",
        "is not a number that can be measured",
        "",
    );
    one(&tie("width: 0"), "0),\n    ])", "0 is not above zero", "");
    one(
        &tie("pull: \"-1 N\""),
        "\"-1 N\"",
        "\"-1 N\" is negative",
        "",
    );
    one(
        &tie("length: true"),
        "true",
        "`length` is a length, found `true`",
        "",
    );
    one(
        &fields("").replace("diameter: 8", "diameter: 0"),
        "0, lay",
        "`diameter`: 0 is not above zero",
        "",
    );
    one(
        &fields("").replace("diameter: 8", "diameter: -8"),
        "-8",
        "`diameter`: -8 is negative",
        "",
    );
    one(
        &fields("").replace("tolerance: 3", "tolerance: -3"),
        "-3",
        "`tolerance`: -3 is negative",
        "",
    );
    let stiff = |s: &str| {
        fields("").replace(
            "diameter: 8",
            &format!("diameter: 8, stiffness: (bend: {s})"),
        )
    };
    one(
        &stiff("\"0.004 N m\""),
        "\"0.004 N m\"",
        "is a torque, but a stiffness is wanted",
        "N m2",
    );
    one(&stiff("\"0 N m2\""), "\"0 N m2\"", "is not above zero", "");
    let wire = |w: &str| fields(&format!("wires: {{\"w\": ({w})}},"));
    one(
        &wire("size: \"77 AWG\", strands: 19, outside: 2"),
        "\"77 AWG\"",
        "is not a wire gauge",
        "20 AWG",
    );
    one(
        &wire("size: \"1 mm\", strands: 19, outside: 2"),
        "\"1 mm\"",
        "is a length, but a cross-section is wanted",
        "AWG",
    );
    one(
        &wire("size: \"1 mm2\", strands: 1.5, outside: 2"),
        "1.5",
        "whole number",
        "count",
    );
    one(
        &wire("size: \"1 mm2\", strands: 19, outside: 1"),
        "1)}",
        "less than its 1.00 mm² of copper",
        "over the insulation",
    );
    one(
        &fields("units: (length: \"feet\", temperature: \"degC\"),"),
        "\"feet\"",
        "`length` cannot be \"feet\"",
        "mm, in",
    );
    let hot = |t: &str| {
        fields(&format!(
            "parts: [(name: \"p\", on: \"frame\", surface: {t}, shape: Ball(centre: (0, 0, 90), diameter: 4))],"
        ))
    };
    one(
        &hot("\"-300 degC\""),
        "\"-300 degC\"",
        "colder than absolute zero",
        "",
    );
    one(
        &hot("\"340 mm\""),
        "\"340 mm\"",
        "is a length, but a temperature is wanted",
        "degC, degF, K",
    );
    one(&hot("90, emissivity: 85"), "85", "above 1", "between 0");
}

#[test]
fn points_and_directions() {
    one(
        &lay(&LAY.replacen("(0, 0, 0)", "(0, 0)", 1)),
        "(0, 0)",
        "needs three numbers, found 2",
        "(x, y, z)",
    );
    one(
        &lay(&LAY.replacen("(0, 0, 0)", "[0, 0, 0]", 1)),
        "[0, 0, 0]",
        "`at` is a point, found a list",
        "(x, y, z)",
    );
    one(
        &tie("facing: (0, 0, 0)"),
        "(0, 0, 0)),\n    ]",
        "`facing` has no length",
        "forward",
    );
    one(&tie("facing: (1, 0)"), "(1, 0)", "needs three numbers", "");
    one(
        &small("points: {\"p\": \"q\", \"q\": \"p\"},", LAY),
        "\"p\"},",
        "placed from itself, in a loop",
        "(x, y, z)",
    );
}

#[test]
fn taped_points() {
    let known = "\"a\": (0, 0, 0), \"b\": (600, 0, 0), \"c\": (0, 600, 0), \"d\": (0, 0, 600)";
    let tape = |from: &str| {
        fields(&format!(
            "points: {{{known}, \"t\": Tape(from: [{from}], side: \"above\")}},"
        ))
    };
    one(
        &tape("(\"a\", 300), (\"b\", 500)"),
        "Tape(",
        "three or more distances are needed, 2 given",
        "measure again",
    );
    one(
        &tape("(\"a\", 300), (\"b\", 500), (\"e\", 500)"),
        "\"e\"",
        "there is no point \"e\"",
        "known are: a, b, c, d, t",
    );
    one(
        &tape("(\"a\", 300), (\"b\", 500), (\"t\", 500)"),
        "\"t\", 500",
        "placed from itself, in a loop",
        "",
    );
    one(
        &tape("(\"a\", 300), (\"b\", 500), (\"c\", -500)"),
        "-500",
        "is negative",
        "",
    );
    one(
        &tape("(\"a\", 300), (\"b\", 500), (\"c\",)"),
        "(\"c\",)",
        "a taped distance is wanted here, found ( ) with 1 values",
        "",
    );
    // (300, 300, 300) is 519.6 from a and 519.6 from each of the others; the one from d is misread by 60.
    let text = tape("(\"a\", 519.6), (\"b\", 519.6), (\"c\", 519.6), (\"d\", 579.6)");
    let found = faults(&text);
    assert_eq!(found.faults.len(), 1, "{found}");
    let message = &found.faults[0].message;
    assert!(message.contains("do not meet in one point"), "{message}");
    assert!(message.contains("(`tape_error` allows 6 mm)"), "{message}");
    assert!(message.contains("worst is the one from"), "{message}");
    // Spheres that are far from meeting.
    let text = tape("(\"a\", 100), (\"b\", 100), (\"c\", 100)");
    assert_eq!(faults(&text).faults.len(), 1);
}

#[test]
fn lays() {
    let a = "Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),\n";
    let b = "Tie(name: \"B\", on: \"frame\", at: (200, 0, 0)),\n";
    let via = "Via(on: \"frame\", at: (50, 9, 0)),\n";
    one(
        &lay(&[via, a, b].concat()),
        "Via",
        "the branch begins with a Via",
        "Tie, Clamp or Connector",
    );
    one(
        &lay(&[a, b, via].concat()),
        "Via",
        "the branch ends with a Via",
        "",
    );
    one(
        &lay(a),
        "[\nTie",
        "the branch has only one fixing",
        "at least two",
    );
    one(
        &lay(""),
        "[\n\n",
        "the branch has no fixing",
        "at least two",
    );
    one(
        &lay(&[a, &b.replace("200", "0")].concat()),
        "Tie(name: \"B\"",
        "\"A\" and \"B\" stand at the same place",
        "measure",
    );
    one(
        &lay(&[&a.replace("0)),", "0), length: 9),"), b].concat()),
        "9)",
        "the first fixing has a `length`",
        "next fixing",
    );
    one(
        &tie("length: 210, slack: 9"),
        "9)",
        "both `length` and `slack`",
        "delete one",
    );
    let middle = "Connector(name: \"C\", on: \"frame\", at: (90, 0, 0)),\n";
    one(
        &lay(&[a, middle, b].concat()),
        "Connector",
        "in the middle of a branch",
        "new branch",
    );
}

#[test]
fn breakouts() {
    let a = "Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),\n";
    let b = "Tie(name: \"B\", on: \"frame\", at: (200, 0, 0)),\n";
    let breakout =
        |fields: &str| lay(&[a, &format!("Breakout(name: \"G\"{fields}),\n"), b].concat());
    one(
        &breakout(", branches: [\"x\"]"),
        "\"x\"",
        "there is no branch \"x\"",
        "",
    );
    one(
        &breakout(", on: \"frame\""),
        "\"frame\"),\nTie(name: \"B\"",
        "where is not given",
        "or neither if it floats",
    );
    one(
        &lay(&[a, "Breakout(name: \"G\", at: (90, 0, 0))\n"].concat()),
        "Breakout",
        "only one branch leads to the breakout \"G\"",
        "Connector",
    );
    one(
        &breakout(", slack: 9"),
        "Breakout",
        "`slack` is over the straight distance, but where the breakout \"G\" lies is not given",
        "give `length`",
    );
}

#[test]
fn parts() {
    let part = |shape: &str| {
        fields(&format!(
            "parts: [(name: \"p\", on: \"frame\", shape: {shape})],"
        ))
    };
    one(
        &part("Scan(file: \"frame.ply\", unit: \"mm\", up: \"z\")"),
        "\"frame.ply\"",
        "there is no file",
        "relative to the route file",
    );
    one(
        &part("Tube(along: [(0, 0, 9)], diameter: 4)"),
        "[(0, 0, 9)]",
        "two or more points, found 1",
        "Ball",
    );
    one(
        &part("Tube(along: [(0, 0, 9), (0, 0, 9)], diameter: 4)"),
        "(0, 0, 9)]",
        "same as the one before",
        "delete",
    );
    one(
        &part("Cylinder(from: (0, 0, 9), to: (0, 0, 9), diameter: 4)"),
        "Cylinder",
        "has no length",
        "ends",
    );
    one(
        &part("Box(centre: (0, 0, 9), size: (1, 0, 1))"),
        "0, 1))",
        "0 is not above zero",
        "",
    );
    one(
        &part("Box(centre: (0, 0, 9), size: (1, -2, 1))"),
        "-2",
        "-2 is negative",
        "",
    );
    one(
        &part("Slab(centre: (0, 0, 9), normal: (0, 0, 1), along: (0, 0, 2), size: (1, 1, 1))"),
        "(0, 0, 2)",
        "the same way as `normal`",
        "",
    );
    one(
        &part("\"ball\""),
        "\"ball\"",
        "`shape` is a shape, found the text",
        "",
    );
    one(
        &fields(
            "parts: [(name: \"p\", on: \"frame\", edge: Blunt, shape: Ball(centre: (0, 0, 9), diameter: 4))],",
        ),
        "Blunt",
        "`edge` cannot be \"Blunt\"",
        "Sharp, Rolled, Grommet",
    );
    one(
        &fields(
            "parts: [(name: \"p\", on: \"frame\", carries: \"fule\", shape: Ball(centre: (0, 0, 9), diameter: 4))],",
        ),
        "\"fule\"",
        "`carries` cannot be \"fule\"",
        "fuel",
    );
}

#[test]
fn limits() {
    let limit = |key: &str, value: &str| {
        fields(&format!(
            "limits: {{ \"{key}\": (value: {value}, why: \"mine\") }},"
        ))
    };
    one(
        &limit("hot distance", "\"30 deg\""),
        "\"30 deg\"",
        "is an angle, but a length is wanted",
        "",
    );
    one(
        &limit("hot distance", "\"10 OD\""),
        "\"10 OD\"",
        "cannot be given in diameters",
        "mm",
    );
    one(
        &limit("bend radius still", "\"0 OD\""),
        "\"0 OD\"",
        "not above zero",
        "10 OD",
    );
    one(
        &limit("twist", "\"30 mm\""),
        "\"30 mm\"",
        "is a length, but a twist per length is wanted",
        "deg/100 mm",
    );
    one(
        &limit("steering drag", "0.5"),
        "0.5",
        "bare number 0.5",
        "\"0.5 N m\"",
    );
    let good = [
        ("bend radius moving", "\"60 mm\""),
        ("bend radius still", "60"),
        ("slack most", "\"40 mm\""),
        ("stretch most", "\"0.2 %\""),
        ("twist", "\"30 deg/100 mm\""),
        ("hot temperature", "\"150 degC\""),
        ("pinch squeeze", "0.1"),
        ("strap pressure", "\"1.5 MPa\""),
        ("strap squeeze", "\"20 %\""),
        ("edge distance", "10"),
        ("edge preload", "\"1 N\""),
        ("rubbing", "\"50 N mm\""),
        ("snag distance", "10"),
        ("fluid distance", "\"4 in\""),
        ("fluid distance clamped", "40"),
        ("drip loop", "20"),
        ("support distance", "\"12 in\""),
        ("steering drag", "\"0.5 N m\""),
        ("voltage drop", "\"0.13 V\""),
    ];
    for (key, value) in good {
        let route = route_text(&limit(key, value), "f").unwrap_or_else(|faults| panic!("{faults}"));
        let kept = false;
        assert_eq!(
            route.warnings.len(),
            usize::from(kept),
            "{key}: {:?}",
            route.warnings
        );
    }
}

#[test]
fn syntax() {
    one("", "", "this file is empty", "neckloom start");
    one("  // nothing but a comment\n", "", "this file is empty", "");
    one(
        &fields("").replace("\"small\",", "\"small\""),
        " tolerance",
        "a comma is missing here",
        "before `tolerance`",
    );
    one(
        &fields("points: {\"p\": (0, 0, 0) \"q\": (0, 0, 1)},"),
        " \"q\"",
        "a comma is missing here",
        "",
    );
    one(
        &fields("points: (\"p\": (0, 0, 0)),"),
        ": (0, 0, 0)),",
        "`:` stands after a value",
        "in { }",
    );
    one(
        &fields("points: {p: (0, 0, 0)},"),
        "p: (",
        "the name p stands without quotes",
        "\"p\"",
    );
    one(
        "(format: 1, bodies: {\"frame\": Fixed}, branches: [",
        "[",
        "the `[` here is never closed",
        "whole",
    );
    one(
        "(format: 1, bodies: {\"frame\": Fixed]",
        "]",
        "`]` closes the `{` of line 1",
        "brackets",
    );
    one(
        &format!("{} zz", fields("")),
        "zz",
        "stands after the end of the route",
        "closed too early",
    );
    one(
        "(format: 1, title: \"no end)",
        "\"no",
        "the text that begins here is not closed",
        "quote",
    );
    one(
        "(format: 1, /* no end",
        "/*",
        "a comment that begins with /* is not closed",
        "*/",
    );
    one(
        &tie("slack: 1.5 in"),
        "in),",
        "`in` stands after a bare number",
        "in quotes: \"1.5 in\"",
    );
    one(
        &tie("facing: (1 0, 0)"),
        " 0, 0)),\n    ]",
        "a comma is missing here",
        "before `0`",
    );
    one(
        &tie("facing: (\"1, 0, 0)"),
        "\"1, 0",
        "is not closed",
        "quote",
    );
    one(
        "hello there",
        "hello",
        "`hello` stands where the route should begin",
        "neckloom start",
    );
    one("[1, 2]", "[", "a route is wanted here, found a list", "");
    one(
        "(format = 1)",
        "= 1",
        "`=` stands where a comma or `)` should stand",
        "",
    );
    let found = faults("{\"format\": 1}");
    assert_eq!(found.faults.len(), 1, "{found}");
}

#[test]
fn another_format() {
    one(
        &fields("nonsense: 1,").replace("format: 1", "format: 2"),
        "2, title",
        "this program reads format 1",
        "release",
    );
    one(
        &fields("").replace("format: 1", "format: \"one\""),
        "\"one\"",
        "this program reads format 1",
        "",
    );
}

#[test]
fn every_fault_in_one_run_in_the_order_of_their_places() {
    let text = "(
    format: 1, titel: \"many\", tolerance: -3,
    points: { \"a\": (0, 0), \"a\": (0, 0, 0) },
    bodies: { \"frame\": Fixed, \"s\": Turns(on: \"fram\", through: \"b\", rake: \"30 mm\", from: \"9 deg\", to: \"2 deg\") },
    parts: [(name: \"p\", on: \"frame\", shape: Ball(centre: (0, 0, 0), diameter: 0), heat: 3)],
    branches: [(name: \"b\", lay: [
        Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),
        Tie(name: \"A\", on: \"frame\", at: (0, 0, 0), facing: (0, 0, 0), lenght: 3),
    ])],
    limits: { \"twist\": (value: \"1 mm\") },
    changes: { \"c\": [Move(what: \"z\", by: (0, 0))] },
)";
    let found = faults(text);
    let lines: Vec<usize> = found.faults.iter().map(|f| f.place.unwrap().0).collect();
    assert_eq!(
        lines,
        [2, 2, 3, 3, 4, 4, 4, 4, 5, 5, 6, 8, 8, 8, 8, 10, 10, 11, 11],
        "\n{found}"
    );
}

#[test]
fn files_that_are_no_route() {
    let folder = std::env::temp_dir().join(format!("neckloom-read-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let message = |path: &std::path::Path| {
        let faults = route_file(path).unwrap_err();
        assert_eq!(faults.faults.len(), 1, "{faults}");
        faults.to_string()
    };
    let missing = message(&folder.join("missing.ron"));
    assert!(
        missing.contains("missing.ron: there is no such file\n    check the name"),
        "{missing}"
    );
    assert!(message(&folder).contains("this is a folder, not a route file"));
    assert!(message(&file("empty.ron", b"")).contains("empty.ron:1:1: this file is empty"));
    let picture = message(&file("picture.png", b"\x89PNG\r\n\x1a\n\0\0"));
    assert!(
        picture.contains("this file is not text (byte 1 is not UTF-8)"),
        "{picture}"
    );

    let large = folder.join("large.ron");
    std::fs::File::create(&large)
        .unwrap()
        .set_len(50 * 1024 * 1024)
        .unwrap();
    let start = std::time::Instant::now();
    let said = message(&large);
    assert!(
        said.contains("this file has 50 MB; a route file has at most 16 MB"),
        "{said}"
    );
    // Refused by its size alone; reading it whole would take far longer than this generous bound.
    assert!(start.elapsed().as_secs_f64() < 1.0);
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn slips_of_the_unit_and_endless_machines_are_refused() {
    for (number, seen) in [
        ("1e300", "1e300"),
        ("-2e5", "-200000"),
        ("\"101 m\"", "\"101 m\""),
    ] {
        let text = fields(&format!("points: {{ \"p\": ({number}, 0, 0) }},"));
        one(
            &text,
            number,
            &format!("{seen} is longer than 100 m"),
            "its unit",
        );
    }
    let text = fields("").replace("tape_error: 6", "tape_error: 1e-300");
    one(&text, "1e-300", "less than a thousandth", "its unit");
    let spin = |range: &str| {
        fields("").replacen(
            "bodies: {",
            &format!("bodies: {{ \"wheel\": Turns(on: \"frame\", through: (0, 0, 0), axis: (0, 1, 0), {range}),"),
            1,
        )
    };
    let text = spin("from: 0.0, to: \"3600 deg\"").replace("0.0,", "\"0 deg\",");
    one(&text, "\"3600 deg\"", "at most 180 deg each way", "stop");
    route_text(&spin("from: \"-180 deg\", to: \"180 deg\""), "f").unwrap();
    let bodies: String = (0..25)
        .map(|i| format!("\"s{i}\": Slides(on: \"frame\", along: (0, 0, 1), from: 0, to: 1),"))
        .collect();
    let text = fields("").replacen("bodies: {", &format!("bodies: {{ {bodies}"), 1);
    assert!(
        faults(&text)
            .to_string()
            .contains("more than 24 bodies move")
    );
}

#[test]
fn a_text_stands_on_one_line_in_plain_quotes() {
    // Both faults are found: reading goes on after the line whose quote is missing.
    let text = fields("").replace(
        "title: \"small\", tolerance: 3",
        "title: \"my bike,\ntolerance: -1",
    );
    let found = faults(&text).to_string();
    assert!(found.contains("runs over the end of its line"), "{found}");
    assert!(found.contains("-1 is negative"), "{found}");
    one(
        &fields("").replace("tolerance: 3", "tolerance \"3 mm\""),
        "tolerance \"3",
        "a colon is missing after `tolerance`",
        "`tolerance: `",
    );
    one(
        &fields("").replace("\"small\"", "“x”"),
        "“",
        "is not a plain quote",
        "plain text editor",
    );
    one(
        &fields("").replace("\"small\"", "\"a\\nb\""),
        "\"a\\nb",
        "line break",
        "one line",
    );
}

#[test]
fn what_is_not_utf_8_has_its_line_and_column() {
    let folder = std::env::temp_dir().join(format!("neckloom-text-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    for (bytes, place, cure) in [
        (
            &b"(\n  title: \"Z\xfcndung\")"[..],
            "f.ron:2:12: ",
            "in UTF-8",
        ),
        (
            &b"\xff\xfe(\0"[..],
            "f.ron:1:1: ",
            "looks like text in UTF-16",
        ),
    ] {
        let path = folder.join("f.ron");
        std::fs::write(&path, bytes).unwrap();
        let said = route_file(&path).unwrap_err().to_string();
        assert!(said.contains(place) && said.contains(cure), "{said}");
    }
    std::fs::remove_dir_all(&folder).unwrap();
}

#[cfg(unix)]
#[test]
fn a_device_is_no_file() {
    let said = route_file(std::path::Path::new("/dev/zero")).unwrap_err();
    assert!(said.to_string().contains("a pipe or a device"), "{said}");
}

#[test]
fn deep_and_long_files_do_not_overflow() {
    for open in [
        "(",
        "[",
        "{",
        "(a:",
        "[(",
        "A(",
        "Some(",
        "{\"a\":",
        "[[",
        "Tape(from:[",
    ] {
        let text = format!("(format: 1, points: {}", open.repeat(200_000));
        let found = faults(&text);
        assert!(found.to_string().contains("deep"), "{open}: {found}");
    }
    // A long chain of names, each after the next.
    let chain: String = (0..5000)
        .map(|i| format!("\"p{i}\": \"p{}\",", i + 1))
        .collect();
    let found = faults(&fields(&format!(
        "points: {{{chain} \"p5000\": (0, 0, 0)}},"
    )));
    assert!(found.to_string().contains("through more than"), "{found}");
    // Many faults are cut to a list that can be read, in a time that can be waited for.
    let many = "(1) ".repeat(300_000);
    let found = faults(&format!("(format: 1, bodies: [{many}])"));
    assert!(found.faults.len() <= 1001);
    assert!(found.to_string().contains("more faults are not listed"));
}
