//! Crops of the garden: FAO-56 Tables 12 (Kc), 17 (Kcb) and 22 (root depth, depletion fraction).

/// One crop, for a minimum humidity of 45 % and wind of 2 m/s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CropRow {
    /// Its name.
    pub name: &'static str,
    /// Crop coefficient, initial stage; often wetted soil can push it to 1.0–1.2 (Table 12, note 1).
    pub kc_ini: f64,
    /// Crop coefficient, mid-season.
    pub kc_mid: f64,
    /// Crop coefficient at the end.
    pub kc_end: f64,
    /// Basal coefficient, initial stage.
    pub kcb_ini: f64,
    /// Basal coefficient, mid-season.
    pub kcb_mid: f64,
    /// Basal coefficient at the end.
    pub kcb_end: f64,
    /// Largest height, m.
    pub height_m: f64,
    /// Root depth, m: the small end for scheduling, the large end for rain-fed growing.
    pub root_depth_m: (f64, f64),
    /// Depletion fraction p at 5 mm/d (Table 22).
    pub depletion_fraction: f64,
}

const fn row(name: &'static str, kc: [f64; 3], kcb: [f64; 3], size: [f64; 3], p: f64) -> CropRow {
    let ([kc_ini, kc_mid, kc_end], [kcb_ini, kcb_mid, kcb_end]) = (kc, kcb);
    let [height_m, shallow, deep] = size;
    CropRow {
        name,
        kc_ini,
        kc_mid,
        kc_end,
        kcb_ini,
        kcb_mid,
        kcb_end,
        height_m,
        root_depth_m: (shallow, deep),
        depletion_fraction: p,
    }
}

/// The crops. Where the crop's own line has no initial Kc, its group's stands. Tomato's end values
/// are the middle of the printed 0.70–0.90 and 0.60–0.80, mint's height that of 0.6–0.8 m; citrus
/// has 70 % canopy on bare ground; grape's initial Kcb is from memory. Columns: Kc and Kcb
/// (initial, mid, end), height, root depth (small, large), p.
pub const CROPS: [CropRow; 29] = [
    row("lettuce", [0.7, 1.0, 0.95], [0.15, 0.9, 0.9], [0.3, 0.3, 0.5], 0.3),
    row("spinach", [0.7, 1.0, 0.95], [0.15, 0.9, 0.85], [0.3, 0.3, 0.5], 0.2),
    row("radish", [0.7, 0.9, 0.85], [0.15, 0.85, 0.75], [0.3, 0.3, 0.5], 0.3),
    row("carrot", [0.7, 1.05, 0.95], [0.15, 0.95, 0.85], [0.3, 0.5, 1.0], 0.35),
    row("cabbage", [0.7, 1.05, 0.95], [0.15, 0.95, 0.85], [0.4, 0.5, 0.8], 0.45),
    row("broccoli", [0.7, 1.05, 0.95], [0.15, 0.95, 0.85], [0.3, 0.4, 0.6], 0.45),
    row("celery", [0.7, 1.05, 1.0], [0.15, 0.95, 0.9], [0.6, 0.3, 0.5], 0.2),
    row("green onion", [0.7, 1.0, 1.0], [0.15, 0.9, 0.9], [0.3, 0.3, 0.6], 0.3),
    row("garlic", [0.7, 1.0, 0.7], [0.15, 0.9, 0.6], [0.3, 0.3, 0.5], 0.3),
    row("tomato", [0.6, 1.15, 0.8], [0.15, 1.1, 0.7], [0.6, 0.7, 1.5], 0.4),
    row("staked tomato", [0.6, 1.2, 0.8], [0.15, 1.15, 0.7], [0.6, 0.7, 1.5], 0.4),
    row("sweet pepper", [0.6, 1.05, 0.9], [0.15, 1.0, 0.8], [0.7, 0.5, 1.0], 0.3),
    row("staked sweet pepper", [0.6, 1.15, 0.9], [0.15, 1.1, 0.8], [0.7, 0.5, 1.0], 0.3),
    row("aubergine", [0.6, 1.05, 0.9], [0.15, 1.0, 0.8], [0.8, 0.7, 1.2], 0.45),
    row("cucumber", [0.6, 1.0, 0.75], [0.15, 0.95, 0.7], [0.3, 0.7, 1.2], 0.5),
    row("staked cucumber", [0.6, 1.15, 0.75], [0.15, 1.1, 0.7], [0.3, 0.7, 1.2], 0.5),
    row("courgette", [0.5, 0.95, 0.75], [0.15, 0.9, 0.7], [0.3, 0.6, 1.0], 0.5),
    row("potato", [0.5, 1.15, 0.75], [0.15, 1.1, 0.65], [0.6, 0.4, 0.6], 0.35),
    row("beetroot", [0.5, 1.05, 0.95], [0.15, 0.95, 0.85], [0.4, 0.6, 1.0], 0.5),
    row("green bean", [0.5, 1.05, 0.9], [0.15, 1.0, 0.8], [0.4, 0.5, 0.7], 0.45),
    row("staked green bean", [0.5, 1.15, 0.9], [0.15, 1.1, 0.8], [0.4, 0.5, 0.7], 0.45),
    row("fresh pea", [0.5, 1.15, 1.1], [0.15, 1.1, 1.05], [0.5, 0.6, 1.0], 0.35),
    row("staked fresh pea", [0.5, 1.2, 1.1], [0.15, 1.15, 1.05], [0.5, 0.6, 1.0], 0.35),
    row("strawberry", [0.4, 0.85, 0.75], [0.3, 0.8, 0.7], [0.2, 0.2, 0.3], 0.2),
    row("mint", [0.6, 1.15, 1.1], [0.4, 1.1, 1.05], [0.7, 0.4, 0.8], 0.4),
    row("bush berries", [0.3, 1.05, 0.5], [0.2, 1.0, 0.4], [1.5, 0.6, 1.2], 0.5),
    row("table grape", [0.3, 0.85, 0.45], [0.15, 0.8, 0.4], [2.0, 1.0, 2.0], 0.35),
    row("citrus", [0.7, 0.65, 0.7], [0.65, 0.6, 0.65], [4.0, 1.2, 1.5], 0.5),
    row("cool-season turf", [0.9, 0.95, 0.95], [0.85, 0.9, 0.9], [0.1, 0.5, 1.0], 0.4),
];

impl CropRow {
    /// The crop of that name.
    pub fn named(name: &str) -> Option<Self> {
        CROPS.into_iter().find(|c| c.name == name)
    }

    /// Basal coefficients: initial, mid-season, end.
    pub fn basal(&self) -> [f64; 3] {
        [self.kcb_ini, self.kcb_mid, self.kcb_end]
    }

    /// Single crop coefficients: initial, mid-season, end.
    pub fn single(&self) -> [f64; 3] {
        [self.kc_ini, self.kc_mid, self.kc_end]
    }
}
