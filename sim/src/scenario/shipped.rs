//! The scenarios that come with the program, and the weather they use.

/// A scenario that comes with the program.
#[derive(Clone, Copy, Debug)]
pub struct Shipped {
    /// Its name on the command line.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

macro_rules! shipped {
    ($($name:literal),+ $(,)?) => {
        /// All of them; the first is the built-in dry week.
        pub const SHIPPED: &[Shipped] = &[$(Shipped {
            name: $name,
            text: include_str!(concat!("../../scenarios/", $name, ".toml")),
        },)+];
    };
}

shipped!(
    "dry-week",
    "real-dry-week",
    "real-wet-week",
    "raised-bed",
    "bare-pump",
    "probe-slips",
    "six-pots",
    "cool-month",
);

/// Name of the scenario that runs when none is named.
pub const BUILT_IN: &str = "dry-week";

/// The text of a shipped scenario.
pub fn text(name: &str) -> Option<&'static str> {
    SHIPPED.iter().find(|shipped| shipped.name == name).map(|shipped| shipped.text)
}

/// The bytes of a shipped weather file.
pub fn weather(file: &str) -> Option<&'static [u8]> {
    match file {
        "schwingbach-dry-week.csv" => {
            Some(include_bytes!("../../scenarios/schwingbach-dry-week.csv"))
        }
        "schwingbach-wet-week.csv" => {
            Some(include_bytes!("../../scenarios/schwingbach-wet-week.csv"))
        }
        _ => None,
    }
}
