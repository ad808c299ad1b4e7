//! What no simulation can see: electricity, floor, drinking water, tank, health.

/// Cautions, each a heading and a sentence or two. General information; the last defers to whoever
/// decides on the spot.
pub(super) const CAUTIONS: [(&str, &str); 6] = [
    (
        "Electricity",
        "Stay at extra-low voltage from a certified isolated adapter that is kept dry and fused \
         near the source. Whatever touches the mains is work for a licensed electrician.",
    ),
    (
        "Floor",
        "A stuck valve or a shorted driver defeats any program. Let a tray hold more than the \
         tank, and let somebody know where the stop-tap is.",
    ),
    (
        "Drinking water",
        "A hose in a pot can be sucked back into the mains. Use an air gap or the backflow device \
         your supplier asks for; a solenoid valve is not one.",
    ),
    (
        "Tank",
        "Cover it against children, pets and mosquitoes. With the outlet below its water it goes \
         on flowing after the pump stops: break the siphon.",
    ),
    (
        "Health",
        "Legionella grows in still water between about 20 and 45 °C and is breathed in as spray. \
         Keep the tank cool, dark, clean and small, and drip rather than spray.",
    ),
    (
        "Who decides",
        "This is general information. Local codes, the water supplier and licensed practice decide.",
    ),
];
