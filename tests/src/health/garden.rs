//! Gardens to keep: substrates from peat to clay, drip and pump, each sized as its maker would.

/// One garden.
#[derive(Clone, Copy, Debug)]
pub struct Garden {
    /// What it is called.
    pub name: &'static str,
    /// Share of the rain that reaches it.
    pub rain_share: f64,
    /// Share of the evaporation that acts on it.
    pub evaporation_share: f64,
    /// Its tables; the controller's is last and left open.
    pub text: &'static str,
}

/// The gardens.
pub const GARDENS: [Garden; 8] = [
    Garden {
        name: "a trough of peat mix",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[container]
volume_l = 28
height_m = 0.17
saturation_pct = 82
container_capacity_pct = 58
wilting_pct = 20
saucer_l = 3
begins_pct = 55
[crop]
name = "sweet pepper"
canopy_m2 = 0.45
[water]
mains_head_m = 10
emitters = 4
emitter_l_h = 2
line_l = 0.15
[control]
policy = "hysteresis"
start_pct = 47
stop_pct = 52
max_open_s = 1800
limit_24h_s = 7200"#,
    },
    Garden {
        name: "a trough with a shallow probe",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[container]
volume_l = 28
height_m = 0.17
saturation_pct = 82
container_capacity_pct = 58
wilting_pct = 20
begins_pct = 55
[container.place]
lag_min = 1.5
spread_h = 1
concentration = 1.5
[crop]
name = "sweet pepper"
canopy_m2 = 0.45
[water]
mains_head_m = 10
emitters = 4
emitter_l_h = 2
[control]
policy = "hysteresis"
start_pct = 47
stop_pct = 53
max_open_s = 1800
limit_24h_s = 7200"#,
    },
    Garden {
        name: "a small pot with a bare pump",
        rain_share: 0.5,
        evaporation_share: 0.8,
        text: r#"
[container]
volume_l = 3
height_m = 0.16
saturation_pct = 84
container_capacity_pct = 60
wilting_pct = 20
saucer_l = 0.5
begins_pct = 55
[container.place]
lag_min = 2
spread_h = 1
[crop]
name = "mint"
canopy_m2 = 0.05
[water]
mains_head_m = 10
emitters = 1
emitter_l_h = 60
[control]
policy = "metered"
start_pct = 48
stop_pct = 54
dose_s = 10
soak_min = 40
sample_while_open = false
min_open_s = 2
max_open_s = 15
limit_24h_s = 120
answer_after_s = 9"#,
    },
    Garden {
        name: "a pot of coir under a roof",
        rain_share: 0.0,
        evaporation_share: 0.7,
        text: r#"
[container]
volume_l = 12
height_m = 0.2
saturation_pct = 88
container_capacity_pct = 64
wilting_pct = 22
saucer_l = 1
begins_pct = 57
[crop]
name = "strawberry"
canopy_m2 = 0.12
[water]
mains_head_m = 10
emitters = 2
emitter_l_h = 2
[control]
policy = "hysteresis"
start_pct = 52
stop_pct = 58
soak_min = 60
max_open_s = 2400
limit_24h_s = 7200"#,
    },
    Garden {
        name: "a tub of coarse bark",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[container]
volume_l = 20
height_m = 0.3
saturation_pct = 72
container_capacity_pct = 42
wilting_pct = 14
begins_pct = 38
[container.place]
lag_min = 3
spread_h = 1
concentration = 0.6
[crop]
name = "tomato"
canopy_m2 = 0.25
[water]
mains_head_m = 10
emitters = 3
emitter_l_h = 2
[control]
policy = "hysteresis"
start_pct = 32
stop_pct = 36.5
max_open_s = 1800
limit_24h_s = 7200"#,
    },
    Garden {
        name: "a bed of loam",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[bed]
soil = "loam"
area_m2 = 3.0
root_depth_m = 0.3
wetted_share = 0.7
begins_pct = 26
[crop]
name = "lettuce"
[water]
mains_head_m = 10
emitters = 12
emitter_l_h = 2
[control]
policy = "hysteresis"
start_pct = 23
stop_pct = 26
soak_min = 60
sample_min = 15
max_open_s = 9000
limit_24h_s = 21600
answer_within_min = 60"#,
    },
    Garden {
        name: "a bed of sandy loam",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[bed]
soil = "sandy loam"
area_m2 = 2.0
root_depth_m = 0.4
wetted_share = 0.5
begins_pct = 17
[crop]
name = "tomato"
[water]
mains_head_m = 10
emitters = 16
emitter_l_h = 2
[control]
policy = "hysteresis"
start_pct = 13.5
stop_pct = 16
max_open_s = 7200
limit_24h_s = 21600
answer_within_min = 60"#,
    },
    Garden {
        name: "a bed of clay loam",
        rain_share: 1.0,
        evaporation_share: 1.0,
        text: r#"
[bed]
soil = "clay loam"
area_m2 = 1.0
root_depth_m = 0.3
wetted_share = 0.9
begins_pct = 33
[crop]
name = "cabbage"
[water]
mains_head_m = 10
emitters = 2
emitter_l_h = 1
[control]
policy = "hysteresis"
start_pct = 29
stop_pct = 31.5
soak_min = 60
sample_min = 15
max_open_s = 36000
limit_24h_s = 64800
answer_within_min = 60"#,
    },
];
