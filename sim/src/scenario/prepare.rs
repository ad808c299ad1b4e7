//! From the file's tables to what a run needs: world, controller, schedules.

use drydown::calibration::{Basis, Curve, CurvePoint};
use drydown::guard::{Limits, ResponseConfig, Timing, Window};
use drydown::policy::{BuiltIn, Hysteresis, Metered, Timer};
use drydown::probe::{FrostHold, ProbeConfig, Rail};
use drydown::quantity::{Flow, Millis, Moisture, RawCounts, Volume};
use drydown::soil::Band;
use drydown::watch::WatchConfig;
use drydown::zone::{
    ByHand, CheckedZone, FlowRule, Probes, Sampling, SignalRules, Stance, ZoneConfig,
};

use super::read::Source;
use super::schema::{
    ContainerTable, PlaceTable, PolicyKind, Scenario, SignalsTable, SpellKind, Stage, StanceKind,
};
use crate::bounds::OutOfRange;
use crate::crop::table::CropRow;
use crate::crop::{Planting, Wetting};
use crate::error::InputError;
use crate::fault::{self, Schedule};
use crate::noise;
use crate::person;
use crate::plumbing::source::{Source as WaterSource, SourceState, Tank};
use crate::plumbing::{Drive, Line, LineRest, LineSpec, MAX_OUTLETS, Outlet, PlumbingFault};
use crate::sensor::{Probe, ProbeSpec};
use crate::soil::bed::{Bed, BedSpec};
use crate::soil::container::{Container, ContainerSpec, Saucer, Shrinkage};
use crate::soil::probe_layer::ProbePlace;
use crate::soil::texture::{CLASSES, TextureClass};
use crate::soil::{Medium, State};
use crate::weather::csv;
use crate::weather::evapotranspiration::Surface;
use crate::weather::gaps::Gaps;
use crate::weather::generate::{Kind, Spell};
use crate::weather::hourly::hourly_mm;
use crate::weather::series::{Place, Series, Site};

const HOUR_MS: f64 = 3.6e6;

/// One pot or bed, prepared.
#[derive(Clone, Debug)]
pub struct Pot {
    /// What it is called.
    pub name: String,
    /// Its soil.
    pub medium: Medium,
    /// Its state at the start.
    pub begins: State,
    /// What its plants ask for on a day.
    pub planting: Planting,
    /// Share of the evaporation that acts on it.
    pub evaporation_share: f64,
    /// Area on which rain falls, m².
    pub ground_m2: f64,
}

/// The weather of a run, hour by hour.
#[derive(Clone, Debug)]
pub struct Weather {
    /// Reference evapotranspiration, mm/h, never negative.
    pub eto_mm_h: Vec<f64>,
    /// Rain that reaches the soil, mm/h.
    pub rain_mm_h: Vec<f64>,
    /// Air temperature, °C.
    pub t_air_c: Vec<f64>,
    /// First hour on the station's clock.
    pub begins: jiff::civil::DateTime,
    /// Notes for the report: gaps filled, rain unknown.
    pub notes: Vec<String>,
    /// Whether it was measured.
    pub measured: bool,
}

/// Everything a run needs.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The scenario as written.
    pub scenario: Scenario,
    /// Length of the run, ms.
    pub duration_ms: u64,
    /// The weather.
    pub weather: Weather,
    /// The probed pot first, then its neighbours.
    pub pots: Vec<Pot>,
    /// The line.
    pub line: Line,
    /// The source.
    pub source: WaterSource,
    /// The source at the start.
    pub stored: SourceState,
    /// The probe.
    pub probe: Probe,
    /// The controller's checked configuration.
    pub zone: CheckedZone,
    /// Flow through the sound line at the start, litres/h, all pots together.
    pub flow_l_h: f64,
    /// What goes wrong.
    pub faults: Schedule,
    /// What a person does, in order.
    pub acts: Vec<person::Scheduled>,
}

impl Setup {
    /// Reads and prepares a scenario.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn load(source: &Source) -> Result<Self, InputError> {
        Self::of(source, source.parse()?)
    }

    /// Prepares a scenario that was read from `source`, possibly changed since.
    ///
    /// # Errors
    /// The first thing that is wrong, with file, line, field, value and bound.
    pub fn of(source: &Source, scenario: Scenario) -> Result<Self, InputError> {
        let days = source.within("days", scenario.days, 0.01, 36_600.0)?;
        if let Some(away) = scenario.away_days {
            source.within("away_days", away, 0.1, 366.0)?;
        }
        let duration_ms = (days * 24.0 * HOUR_MS).round() as u64;
        let prepare = Prepare { source, scenario: &scenario };
        let weather = prepare.weather(days)?;
        let pots = prepare.pots()?;
        let (water, stored) = prepare.water()?;
        let line = prepare.line(pots.len())?;
        let flow_l_h = line.flow_l_h(&water, stored, &PlumbingFault::default());
        if flow_l_h <= 0.0 {
            return Err(source.error(
                "water",
                "gives no flow at the start: the head at the emitters \
                 is below what the valve or pump needs",
            ));
        }
        let probe = prepare.probe()?;
        let zone = prepare.zone(&probe, &pots[0], flow_l_h)?;
        let faults = prepare.faults()?;
        let acts = prepare.acts(duration_ms)?;
        Ok(Self {
            duration_ms,
            weather,
            pots,
            line,
            source: water,
            stored,
            probe,
            zone,
            flow_l_h,
            faults,
            acts,
            scenario,
        })
    }
}

struct Prepare<'a> {
    source: &'a Source,
    scenario: &'a Scenario,
}

impl Prepare<'_> {
    /// An error of a physical part, placed at the table it comes from.
    fn physical(&self, table: &str, error: &OutOfRange) -> InputError {
        let OutOfRange { field, value, min, max } = error;
        self.source.error(
            table,
            format!(
                "holds a figure that cannot be: {field} is {value}, it must be from {min} to {max}"
            ),
        )
    }

    fn site(&self) -> Result<Site, InputError> {
        let site = &self.scenario.site;
        Site::new(Place {
            latitude_deg: site.latitude_deg,
            longitude_deg: site.longitude_deg,
            elevation_m: site.elevation_m,
            wind_height_m: site.wind_height_m,
            utc_offset_h: site.utc_offset_h,
        })
        .map_err(|error| {
            let field = format!("site.{}", error.field.as_deref().unwrap_or_default());
            let placed = self.source.error(&field, error.message.clone());
            InputError { value: error.value, suggestion: error.suggestion, ..placed }
        })
    }

    fn weather(&self, days: f64) -> Result<Weather, InputError> {
        let table = &self.scenario.weather;
        let site = self.site()?;
        self.source.within("weather.rain_share", table.rain_share, 0.0, 1.0)?;
        self.source.within("weather.evaporation_share", table.evaporation_share, 0.0, 3.0)?;
        let mut notes = vec![];
        let (series, measured) = match (&table.file, table.spell) {
            (Some(file), None) => (self.read_weather(file, &site, &mut notes)?, true),
            (None, Some(spell)) => (self.invent_weather(spell, days, &site)?, false),
            (Some(_), Some(_)) => {
                return Err(self.source.error("weather.spell", "cannot stand beside weather.file"));
            }
            (None, None) => {
                return Err(self.source.error("weather", "needs either `file` or `spell`"));
            }
        };
        let hours = (days * 24.0).ceil() as usize;
        if series.records.len() < hours {
            return Err(self
                .source
                .error(
                    "days",
                    format!(
                        "must be at most {} with this weather",
                        series.records.len() as f64 / 24.0
                    ),
                )
                .value(days));
        }
        let eto = hourly_mm(&series, &site, Surface::Short);
        let mut weather = Weather {
            eto_mm_h: Vec::with_capacity(hours),
            rain_mm_h: Vec::with_capacity(hours),
            t_air_c: Vec::with_capacity(hours),
            begins: series.records[0].start,
            notes,
            measured,
        };
        for (record, eto) in series.records.iter().zip(eto).take(hours) {
            let (Some(t_air_c), Some(eto)) = (record.t_mean_c(), eto) else {
                let message =
                    "needs temperature, humidity, wind and radiation in every hour of the run";
                return Err(self.source.error("weather.file", message).value(record.start));
            };
            weather.eto_mm_h.push(eto.max(0.0) * table.evaporation_share);
            weather.rain_mm_h.push(record.rain_mm.unwrap_or(0.0) * table.rain_share);
            weather.t_air_c.push(t_air_c);
        }
        Ok(weather)
    }

    fn read_weather(
        &self,
        file: &str,
        site: &Site,
        notes: &mut Vec<String>,
    ) -> Result<Series, InputError> {
        let gaps = match self.scenario.weather.fill_gaps_h {
            Some(longest_h) => Gaps::Fill { longest_h },
            None => Gaps::Refuse,
        };
        let bytes = self.source.beside(file)?;
        let reading = csv::read(&bytes, file, site, gaps)?;
        if !reading.ignored_columns.is_empty() {
            notes.push(format!("{file}: columns not read: {}", reading.ignored_columns.join(", ")));
        }
        if reading.gaps.filled > 0 {
            notes.push(format!("{file}: {} hours were interpolated", reading.gaps.filled));
        }
        if !reading.series.has_rain {
            notes.push(format!("{file}: no rain column; rain is unknown and taken as none"));
        }
        Ok(reading.series)
    }

    fn invent_weather(
        &self,
        kind: SpellKind,
        days: f64,
        site: &Site,
    ) -> Result<Series, InputError> {
        let table = &self.scenario.weather;
        let needed = |field: &str| {
            self.source.error(&format!("weather.{field}"), "is needed for a generated spell")
        };
        let start = table.start.as_deref().ok_or_else(|| needed("start"))?;
        let start = start.parse().map_err(|_| {
            self.source.error("weather.start", "must be a date like 2026-07-06").value(start)
        })?;
        Spell {
            kind: match kind {
                SpellKind::Dry => Kind::Dry,
                SpellKind::Ordinary => Kind::Ordinary,
                SpellKind::Wet => Kind::Wet,
            },
            start,
            days: days.ceil() as u16,
            t_mean_c: table.t_mean_c.ok_or_else(|| needed("t_mean_c"))?,
            t_peak_c: table.t_peak_c.ok_or_else(|| needed("t_peak_c"))?,
            season_swing_c: table.season_swing_c,
            seed: self.scenario.seed,
        }
        .generate(site)
        .map_err(|error| {
            let field = format!("weather.{}", error.field.as_deref().unwrap_or_default());
            InputError { value: error.value, ..self.source.error(&field, error.message.clone()) }
        })
    }

    fn planting(&self, canopy_m2: f64, wetted: f64) -> Result<Planting, InputError> {
        let crop = &self.scenario.crop;
        let row = CropRow::named(&crop.name).ok_or_else(|| {
            let names: Vec<_> = crate::crop::table::CROPS.iter().map(|row| row.name).collect();
            self.source
                .error("crop.name", "must be one of the crops of the table")
                .value(&crop.name)
                .suggest(format!("Known are: {}", names.join(", ")))
        })?;
        Ok(Planting {
            kcb: match crop.stage {
                Stage::Initial => row.kcb_ini,
                Stage::Mid => row.kcb_mid,
                Stage::End => row.kcb_end,
            },
            height_m: row.height_m,
            depletion_fraction: row.depletion_fraction,
            canopy_m2,
            wetted,
            drip: true,
            wetting: Wetting::Frequent,
        })
    }

    fn pots(&self) -> Result<Vec<Pot>, InputError> {
        let probed = match (&self.scenario.container, &self.scenario.bed) {
            (Some(table), None) => self.container(table)?,
            (None, Some(_)) => self.bed()?,
            _ => {
                let message = "exactly one of the tables [container] and [bed] is needed";
                return Err(InputError::new(message).file(self.source.name.as_str()));
            }
        };
        let mut pots = vec![probed];
        for (index, pot) in self.scenario.neighbours.iter().enumerate() {
            let field = format!("neighbour.{index}");
            let Some(table) = &self.scenario.container else {
                return Err(self.source.error(&field, "needs a [container] to stand beside"));
            };
            let at = |name: &str| format!("{field}.{name}");
            self.source.within(&at("volume_l"), pot.volume_l, 0.05, 5_000.0)?;
            self.source.within(&at("canopy_m2"), pot.canopy_m2, 0.0, 100.0)?;
            self.source.within(&at("evaporation_share"), pot.evaporation_share, 0.0, 3.0)?;
            self.source.within(&at("clogged"), pot.clogged, 0.0, 0.99)?;
            let table = ContainerTable { volume_l: pot.volume_l, ..table.clone() };
            pots.push(Pot {
                name: pot.name.clone(),
                evaporation_share: pot.evaporation_share,
                planting: self.planting(pot.canopy_m2, 1.0)?,
                ..self.container(&table)?
            });
        }
        Ok(pots)
    }

    fn container(&self, table: &ContainerTable) -> Result<Pot, InputError> {
        self.source.within("container.height_m", table.height_m, 0.03, 2.0)?;
        self.source.within("container.volume_l", table.volume_l, 0.05, 5_000.0)?;
        let canopy_m2 =
            self.source.within("crop.canopy_m2", self.scenario.crop.canopy_m2, 0.001, 100.0)?;
        let surface_m2 = table.volume_l * 1e-3 / table.height_m;
        let wilting = table.wilting_pct / 100.0;
        let below = table.shrinks_below_pct / 100.0;
        let spec = ContainerSpec {
            volume_l: table.volume_l,
            surface_m2,
            saturation: table.saturation_pct / 100.0,
            container_capacity: table.container_capacity_pct / 100.0,
            wilting,
            air_dry: wilting / 2.0,
            hole_min: 4.0,
            evaporation_depth_m: 0.05_f64.min(table.height_m / 2.0),
            infiltration_l_h: 400.0 * surface_m2,
            headspace_l: 0.1 * table.volume_l,
            saucer: (table.saucer_l > 0.0)
                .then_some(Saucer { holds_l: table.saucer_l, draw_up_h: 3.0 }),
            shrinkage: (below > 0.0).then_some(Shrinkage {
                below,
                until: below + 0.08,
                share: 0.8,
            }),
            probe: place(&table.place),
        };
        let medium = Container::new(&spec).map_err(|error| self.physical("container", &error))?;
        let medium = Medium::Container(medium);
        let begins = self.source.within(
            "container.begins_pct",
            table.begins_pct,
            1.0,
            table.saturation_pct,
        )?;
        Ok(Pot {
            name: "probed pot".to_owned(),
            begins: medium.at_rest(begins / 100.0),
            medium,
            planting: self.planting(canopy_m2, 1.0)?,
            evaporation_share: 1.0,
            ground_m2: surface_m2,
        })
    }

    fn bed(&self) -> Result<Pot, InputError> {
        let Some(table) = &self.scenario.bed else { unreachable!("asked only where there is one") };
        let class = TextureClass::named(&table.soil).ok_or_else(|| {
            let names = CLASSES.map(|class| class.name).join(", ");
            self.source
                .error("bed.soil", "must be a texture class")
                .value(&table.soil)
                .suggest(format!("Known are: {names}"))
        })?;
        let soil = class.hydraulics();
        self.source.within("bed.area_m2", table.area_m2, 0.01, 10_000.0)?;
        self.source.within("bed.root_depth_m", table.root_depth_m, 0.05, 3.0)?;
        let wetted = self.source.within("bed.wetted_share", table.wetted_share, 0.05, 1.0)?;
        let usual = BedSpec::of_soil(&soil, table.area_m2, table.root_depth_m);
        let spec = BedSpec {
            wetted_fraction: wetted,
            probe: place(&table.place),
            readily_evaporable_mm: class
                .readily_evaporable_mm
                .map_or(usual.readily_evaporable_mm, |(low, high)| f64::midpoint(low, high)),
            ..usual
        };
        let bed = Bed::new(&spec).map_err(|error| self.physical("bed", &error))?;
        let medium = Medium::Bed(bed);
        let begins =
            self.source.within("bed.begins_pct", table.begins_pct, 1.0, 100.0 * soil.saturation)?;
        Ok(Pot {
            name: "probed bed".to_owned(),
            begins: medium.at_rest(begins / 100.0),
            medium,
            planting: self.planting(table.area_m2, wetted)?,
            evaporation_share: 1.0,
            ground_m2: table.area_m2,
        })
    }

    fn water(&self) -> Result<(WaterSource, SourceState), InputError> {
        let table = &self.scenario.water;
        let (source, stored_l) = match (table.tank_l, table.mains_head_m) {
            (Some(holds_l), None) => {
                self.source.within("water.tank_l", holds_l, 0.1, 1e6)?;
                self.source.within("water.tank_depth_m", table.tank_depth_m, 0.02, 20.0)?;
                let begins = table.tank_begins_l.unwrap_or(holds_l);
                self.source.within("water.tank_begins_l", begins, 0.0, holds_l)?;
                let area_m2 = holds_l * 1e-3 / table.tank_depth_m;
                (WaterSource::Tank(Tank { holds_l, area_m2, unusable_l: 0.02 * holds_l }), begins)
            }
            (None, Some(head_m)) => (WaterSource::Mains { head_m }, 0.0),
            _ => {
                let message = "needs exactly one of `tank_l` and `mains_head_m`";
                return Err(self.source.error("water", message));
            }
        };
        let source = source.checked().map_err(|error| self.physical("water", &error))?;
        Ok((source, SourceState { stored_l }))
    }

    fn line(&self, pots: usize) -> Result<Line, InputError> {
        let table = &self.scenario.water;
        self.source.within("water.emitter_l_h", table.emitter_l_h, 0.01, 1e5)?;
        self.source.within("water.emitter_head_m", table.emitter_head_m, 0.01, 100.0)?;
        self.source.within("water.emitters", f64::from(table.emitters), 1.0, 1_000.0)?;
        if pots > MAX_OUTLETS {
            let message = format!("must be at most {} on one valve", MAX_OUTLETS - 1);
            return Err(self.source.error("neighbour", message).value(pots - 1));
        }
        let k_l_h = table.emitter_l_h / table.emitter_head_m.powf(table.emitter_exponent);
        let mut outlets = vec![Outlet { emitters: table.emitters, k_l_h, spread: 1.0 }];
        outlets.extend(self.scenario.neighbours.iter().map(|pot| Outlet {
            emitters: pot.emitters,
            k_l_h,
            spread: 1.0 - pot.clogged,
        }));
        let drive = match table.pump_l_h {
            Some(free_flow_l_h) => Drive::Pump {
                free_flow_l_h,
                shutoff_head_m: table.pump_head_m,
                lift_m: table.lift_m,
                air_break: table.air_break,
            },
            None => Drive::Valve { minimum_head_m: table.valve_least_head_m },
        };
        let spec = LineSpec {
            drive,
            outlets,
            exponent: table.emitter_exponent,
            outlet_height_m: table.outlet_height_m,
            line_l: table.line_l,
            rest: LineRest::StaysFull,
            opening_s: table.opening_s,
            closing_s: table.closing_s,
            open_end_factor: 4.0,
        };
        Line::new(&spec).map_err(|error| self.physical("water", &error))
    }

    fn probe(&self) -> Result<Probe, InputError> {
        let table = &self.scenario.probe;
        let top = f64::from((1_u32 << table.bits.min(16)) - 1);
        let spec = ProbeSpec {
            air: table.air_counts,
            dry: table.dry_counts,
            water: table.water_counts,
            bend: table.bend,
            per_kelvin: table.pct_per_kelvin / 100.0,
            noise: table.noise_counts,
            bits: table.bits,
            window: (0, top as u16),
            unit_spread: table.unit_spread,
            ..ProbeSpec::default()
        };
        Probe::new(&spec, self.scenario.seed).map_err(|error| self.physical("probe", &error))
    }

    /// The curve as a person weighed it: the unit's true counts at moistures that are each a
    /// little off.
    fn curve(&self, probe: &Probe) -> Result<Curve, InputError> {
        let table = &self.scenario.probe;
        self.source.within("probe.weighing_error_pct", table.weighing_error_pct, 0.0, 10.0)?;
        let mut points = vec![];
        for (index, &percent) in table.calibrated_at_pct.iter().enumerate() {
            let field = format!("probe.calibrated_at_pct.{index}");
            self.source.within(&field, percent, 0.0, 100.0)?;
            let off = noise::gaussian(self.scenario.seed, index as u64, WEIGHING);
            let weighed = (percent + table.weighing_error_pct * off).clamp(0.0, 100.0);
            points.push(CurvePoint {
                raw: RawCounts(probe.transfer(percent / 100.0).round() as u16),
                moisture: Moisture::from_centi((weighed * 100.0).round() as u16),
            });
        }
        Curve::new(&points, Basis::Volumetric).map_err(|error| {
            self.source.error("probe.calibrated_at_pct", format!("gives no curve: {error}"))
        })
    }

    fn zone(&self, probe: &Probe, pot: &Pot, flow_l_h: f64) -> Result<CheckedZone, InputError> {
        let control = &self.scenario.control;
        let curve = self.curve(probe)?;
        let air = RawCounts(probe.air_counts().round() as u16);
        let water = RawCounts(probe.water_counts().round() as u16);
        let top = probe.full_scale();
        let usable = (RawCounts((top * 0.01) as u16), RawCounts((top * 0.98) as u16));
        let mut probe_config = ProbeConfig::around(curve, air, water, usable, Rail::Low);
        probe_config.smoothing = control.smoothing;
        probe_config.frost = control.air_sensor.then_some(FrostHold::USUAL);
        let checked = probe_config.check().map_err(|error| {
            self.source.error("probe", format!("is refused by the controller: {error}"))
        })?;
        let wettest = f64::from(curve.wettest().moisture.centi()) / 100.0;
        if let Some(stop) = control.stop_pct.filter(|&stop| stop >= wettest) {
            let message =
                format!("must be below {wettest:.1}, the wettest point of the calibration");
            return Err(self.source.error("control.stop_pct", message).value(stop));
        }
        let limits = self.limits()?;
        let config = ZoneConfig {
            probes: if control.policy == PolicyKind::Timer {
                Probes::None
            } else {
                Probes::One(checked)
            },
            policy: self.policy()?,
            sampling: Sampling {
                period: self.minutes("sample_min", control.sample_min)?,
                open_period: self.seconds("open_sample_s", control.open_sample_s)?,
                while_open: control.sample_while_open,
                warm_up: Millis(200),
            },
            limits,
            timing: Timing {
                open_step: Millis(1_000),
                slack: Millis(500),
                hold_off: Millis::from_secs(60),
                tick: Millis(10),
                watchdog: Millis(2_000),
                run_down: Millis::ZERO,
                commit_wait: Millis::from_secs(2),
                jumps_per_day: 4,
                resets_while_open: 3,
            },
            response: self.response(pot, flow_l_h, probe_config.detection, limits)?,
            by_hand: ByHand {
                remote_longest: Millis::from_mins(5).min(limits.max_open),
                remote_acknowledge: false,
                bench_lasts: Millis::from_mins(30),
            },
            stance: self.stance()?,
            signals: signal_rules(&self.scenario.signals, flow_l_h),
            watch: self.watch(pot)?,
            window: Window::DAY,
        };
        config.check().map_err(|error| {
            let field = told_as(error.field, control.policy);
            let (drydown::zone::Bound::AtLeast(_) | drydown::zone::Bound::AtMost(_)) = error.bound;
            self.source.error(&field, format!("is refused: {error}"))
        })
    }

    fn seconds(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 86_400.0)?;
        Ok(Millis((value * 1e3).round() as u32))
    }

    fn minutes(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 10_080.0)?;
        Ok(Millis((value * 6e4).round() as u32))
    }

    fn hours(&self, name: &str, value: f64) -> Result<Millis, InputError> {
        let value = self.source.within(&format!("control.{name}"), value, 0.0, 1_000.0)?;
        Ok(Millis((value * HOUR_MS).round() as u32))
    }

    fn limits(&self) -> Result<Limits, InputError> {
        let control = &self.scenario.control;
        let per_day = self.seconds("limit_24h_s", control.limit_24h_s)?;
        let by_hand = match control.by_hand_24h_s {
            Some(seconds) => self.seconds("by_hand_24h_s", seconds)?,
            None => per_day,
        };
        Ok(Limits {
            max_open: self.seconds("max_open_s", control.max_open_s)?,
            min_open: self.seconds("min_open_s", control.min_open_s)?,
            min_closed: self.seconds("min_closed_s", control.min_closed_s)?,
            per_day,
            fallback_per_day: per_day,
            local_per_day: by_hand,
            remote_per_day: by_hand,
            bench_per_day: by_hand,
        })
    }

    fn needed<T: Copy>(&self, name: &str, value: Option<T>) -> Result<T, InputError> {
        value.ok_or_else(|| {
            self.source.error(&format!("control.{name}"), "is needed with this policy or stance")
        })
    }

    fn band(&self) -> Result<Band, InputError> {
        let control = &self.scenario.control;
        let level = |name: &str, value: Option<f64>| {
            let percent = self.needed(name, value)?;
            self.source.within(&format!("control.{name}"), percent, 0.0, 100.0)?;
            Ok(Moisture::from_centi((percent * 100.0).round() as u16))
        };
        let start = level("start_pct", control.start_pct)?;
        let stop = level("stop_pct", control.stop_pct)?;
        Band::new(start, stop, 1).map_err(|_| {
            let stop = control.stop_pct.unwrap_or_default();
            self.source
                .error("control.start_pct", format!("must be below stop_pct, which is {stop}"))
                .value(control.start_pct.unwrap_or_default())
        })
    }

    fn policy(&self) -> Result<BuiltIn, InputError> {
        let control = &self.scenario.control;
        let (basis, agree) = (Basis::Volumetric, control.agree);
        let soak = self.minutes("soak_min", control.soak_min)?;
        let dose = || self.seconds("dose_s", self.needed("dose_s", control.dose_s)?);
        Ok(match control.policy {
            PolicyKind::Hysteresis => {
                BuiltIn::Hysteresis(Hysteresis { band: self.band()?, basis, agree, soak })
            }
            PolicyKind::Metered => {
                let (band, dose) = (self.band()?, dose()?);
                BuiltIn::Metered(Metered { band, basis, agree, dose, soak })
            }
            PolicyKind::Timer => {
                let every = self.hours("every_h", self.needed("every_h", control.every_h)?)?;
                BuiltIn::Timer(Timer { dose: dose()?, every })
            }
        })
    }

    fn stance(&self) -> Result<Stance, InputError> {
        let control = &self.scenario.control;
        let dose =
            || self.seconds("stance_dose_s", self.needed("stance_dose_s", control.stance_dose_s)?);
        Ok(match control.stance {
            StanceKind::StayShut => Stance::StayShut,
            StanceKind::TestDose => Stance::TestDose { dose: dose()? },
            StanceKind::Ration => {
                let every = self.needed("stance_every_h", control.stance_every_h)?;
                Stance::Ration { dose: dose()?, every: self.hours("stance_every_h", every)? }
            }
        })
    }

    /// If not measured, the open time that raises the whole pot by twice the detection threshold,
    /// with half as much again for what the probe's place may miss.
    fn response(
        &self,
        pot: &Pot,
        flow_l_h: f64,
        detection: u16,
        limits: Limits,
    ) -> Result<ResponseConfig, InputError> {
        let control = &self.scenario.control;
        let judged_after = if let Some(seconds) = control.answer_after_s {
            self.seconds("answer_after_s", seconds)?
        } else {
            let rise = 2.0 * f64::from(detection) / 1e4;
            let at_pot_l_h = flow_l_h * self.scenario.probed_share();
            let hours = 1.5 * rise * pot.medium.volume_l() / at_pot_l_h;
            Millis((hours * HOUR_MS).ceil().min(f64::from(limits.per_day.0)) as u32)
        };
        Ok(ResponseConfig {
            detection,
            judged_after,
            window: self.minutes("answer_within_min", control.answer_within_min)?,
            tries: control.answer_tries,
        })
    }

    fn watch(&self, pot: &Pot) -> Result<WatchConfig, InputError> {
        let control = &self.scenario.control;
        let available =
            (pot.medium.capacity() - pot.medium.wilting_point()) * pot.medium.volume_l();
        let overdue_l = control.overdue_l.unwrap_or(available);
        self.source.within("control.overdue_l", overdue_l, 0.01, 4_000.0)?;
        let full = 100.0 * pot.medium.capacity();
        let too_wet = match control.too_wet_pct {
            Some(percent) => self.source.within("control.too_wet_pct", percent, 1.0, 100.0)?,
            None => full + 3.0,
        };
        let every_h = control.soak_min / 60.0;
        Ok(WatchConfig {
            overdue_demand: Volume((overdue_l * 1e6) as u32),
            overdue_after: self.hours("overdue_h", control.overdue_h)?,
            too_wet: Moisture::from_centi((too_wet * 100.0) as u16),
            too_wet_after: Millis::from_hours(48),
            short_interval: Millis((every_h * HOUR_MS * 0.9) as u32),
            short_cycles: 6,
            rise: 300,
            commissioned_rise: 0,
        })
    }

    fn faults(&self) -> Result<Schedule, InputError> {
        let mut faults = vec![];
        for (index, fault) in self.scenario.faults.iter().enumerate() {
            let at = |name: &str| format!("fault.{index}.{name}");
            let at_h = self.source.within(&at("at_h"), fault.at_h, 0.0, 1e6)?;
            let (usual, least, most) = fault.kind.amount();
            let amount =
                self.source.within(&at("amount"), fault.amount.unwrap_or(usual), least, most)?;
            let until_ms = match fault.for_h {
                Some(for_h) => {
                    let for_h = self.source.within(&at("for_h"), for_h, 1e-4, 1e6)?;
                    ((at_h + for_h) * HOUR_MS) as u64
                }
                None => u64::MAX,
            };
            let from_ms = (at_h * HOUR_MS) as u64;
            faults.push(fault::Scheduled { kind: fault.kind, from_ms, until_ms, amount });
        }
        Ok(Schedule::new(faults))
    }

    /// A person has commissioned the device before the run begins: the record is initialised.
    fn acts(&self, duration_ms: u64) -> Result<Vec<person::Scheduled>, InputError> {
        let mut acts =
            vec![person::Scheduled { act: person::Act::Initialises, at_ms: 0, amount: 0.0 }];
        for (index, person) in self.scenario.persons.iter().enumerate() {
            let at = |name: &str| format!("person.{index}.{name}");
            let at_h = self.source.within(&at("at_h"), person.at_h, 0.0, 1e6)?;
            let (usual, least, most) = person.does.amount();
            let amount =
                self.source.within(&at("amount"), person.amount.unwrap_or(usual), least, most)?;
            let every_ms = match person.every_h {
                Some(hours) => {
                    (self.source.within(&at("every_h"), hours, 0.1, 1e6)? * HOUR_MS) as u64
                }
                None => u64::MAX,
            };
            let mut at_ms = (at_h * HOUR_MS) as u64;
            while at_ms < duration_ms {
                acts.push(person::Scheduled { act: person.does, at_ms, amount });
                at_ms = at_ms.saturating_add(every_ms);
            }
        }
        acts.sort_by_key(|act| act.at_ms);
        Ok(acts)
    }
}

/// Channel of the counter-based noise for weighing errors.
const WEIGHING: u64 = 48;

fn place(table: &PlaceTable) -> ProbePlace {
    ProbePlace {
        lag_min: table.lag_min,
        spread_h: table.spread_h,
        concentration: table.concentration,
    }
}

fn signal_rules(table: &SignalsTable, flow_l_h: f64) -> SignalRules {
    let flow = table.flow_within.map(|share| FlowRule {
        least: Flow((flow_l_h * (1.0 - share) * 1e3) as u32),
        most: Flow((flow_l_h * (1.0 + share) * 1e3) as u32),
        grace: Millis::from_secs(20),
        most_closed: Flow((flow_l_h * 0.02 * 1e3) as u32),
        closed_after: Millis::from_secs(60),
    });
    SignalRules { flow, load: None, lowest_supply_mv: 0 }
}

/// The scenario's name of a field of the controller's configuration.
fn told_as(field: &str, policy: PolicyKind) -> String {
    let name = match field {
        "limits.max_open" | "by_hand.remote_longest" => "max_open_s",
        "limits.min_open" => "min_open_s",
        "limits.min_closed" => "min_closed_s",
        "limits.per_day" | "limits.fallback_per_day" => "limit_24h_s",
        "limits.local_per_day" | "limits.remote_per_day" | "limits.bench_per_day" => {
            "by_hand_24h_s"
        }
        "policy.dose" => "dose_s",
        "policy.every" => "every_h",
        "policy.soak" => "soak_min",
        "policy.agree" => "agree",
        "sampling.period" => "sample_min",
        "sampling.open_period" => "open_sample_s",
        "sampling.while_open" => "sample_while_open",
        "response.judged_after" => "answer_after_s",
        "response.tries" => "answer_tries",
        "stance.dose" => "stance_dose_s",
        "stance.every" => "stance_every_h",
        _ if policy == PolicyKind::Timer => "policy",
        _ => return "control".to_owned(),
    };
    format!("control.{name}")
}
