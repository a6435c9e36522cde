//! The cautions that go with every report and sheet.

/// The usual cautions, in short sentences.
pub const CAUTIONS: [&str; 5] = [
    "Before you ride, turn the bars slowly from stop to stop by hand: nothing may pull, catch or hold them.",
    "The throttle must snap shut and the idle must not change at any bar angle; check brake lever and brake light at \
     both stops.",
    "Disconnect the battery, negative lead first, before work. Let hot parts cool.",
    "Throttle, brake and airbag circuits belong to licensed practice and the maker's manual, which goes before this \
     report, as local rules do.",
    "This is an estimate from measurements. It does not replace inspection, and it cannot say that a wire is sound.",
];
