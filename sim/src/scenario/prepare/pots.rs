//! Soil and plants: the probed pot or bed, and its neighbours.

use super::super::schema::{BedTable, ContainerTable, PlaceTable, Stage};
use super::{Pot, Prepare};
use crate::crop::table::{CROPS, CropRow};
use crate::crop::{Planting, Wetting};
use crate::error::InputError;
use crate::soil::Medium;
use crate::soil::bed::{Bed, BedSpec};
use crate::soil::container::{Container, ContainerSpec, Saucer, Shrinkage};
use crate::soil::probe_layer::ProbePlace;
use crate::soil::texture::{CLASSES, TextureClass};

impl Prepare<'_> {
    fn planting(&self, canopy_m2: f64, wetted: f64) -> Result<Planting, InputError> {
        let crop = &self.scenario.crop;
        let row = CropRow::named(&crop.name).ok_or_else(|| {
            let names: Vec<_> = CROPS.iter().map(|row| row.name).collect();
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

    pub(super) fn pots(&self) -> Result<Vec<Pot>, InputError> {
        let probed = match (&self.scenario.container, &self.scenario.bed) {
            (Some(table), None) => self.container(table)?,
            (None, Some(table)) => self.bed(table)?,
            (Some(_), Some(_)) => {
                let message = "stands beside [container]: exactly one of the two is needed";
                return Err(self.source.error("bed", message));
            }
            (None, None) => {
                let message =
                    "is missing: exactly one of the tables [container] and [bed] is needed";
                return Err(self.source.error("container", message).line(1));
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

    fn bed(&self, table: &BedTable) -> Result<Pot, InputError> {
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
            readily_evaporable_mm: class.readily_evaporable_mm.map_or(
                usual.readily_evaporable_mm,
                // The table is for 0.10 m; a shallower bed has its share.
                |(low, high)| f64::midpoint(low, high) * (usual.evaporation_depth_m / 0.10),
            ),
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
}

fn place(table: &PlaceTable) -> ProbePlace {
    ProbePlace {
        lag_min: table.lag_min,
        spread_h: table.spread_h,
        concentration: table.concentration,
    }
}
