//! Properties of the wood, glue, clamp and finish calculations that hold for any sizes.

use proptest::prelude::*;
use scrapwright::calc::finishing::{LARGEST_STEP, grit_sequence};
use scrapwright::calc::gluing::{
    ClampSet, GlueLines, LoadPanel, LoadRules, Rig, Spreading, clamp_need, placements,
    plan_assembly, pressure_band, share_clamps, shared_loads, take_from_rack, what_it_can_do,
};
use scrapwright::calc::shaping::passes;
use scrapwright::calc::wood::{
    Direction, GrowthRings, Strip, board_movement, change, equilibrium, tally,
};
use scrapwright::reference::woods;
use scrapwright::units::{Force, Humidity, Length, Minutes, Moisture, Temperature, Volume};

fn length(low_mm: i64, high_mm: i64) -> impl Strategy<Value = Length> {
    (low_mm * 10..=high_mm * 10).prop_map(|tenths| Length::from_nm(tenths * 100_000))
}

fn moisture(low: f64, high: f64) -> impl Strategy<Value = Moisture> {
    (low..high).prop_map(|percent| Moisture::from_percent(percent).expect("in range"))
}

/// The fewest consecutive groups by trying every way to cut: for short boards only.
fn fewest_groups(widths: &[Length], most: usize, widest: Length) -> usize {
    (0..1_u32 << (widths.len() - 1))
        .filter_map(|cuts| {
            let mut groups: Vec<Vec<Length>> = vec![vec![widths[0]]];
            for (place, width) in widths.iter().enumerate().skip(1) {
                if cuts & (1 << (place - 1)) != 0 {
                    groups.push(Vec::new());
                }
                groups.last_mut().expect("never empty").push(*width);
            }
            let fits = groups.iter().all(|group| {
                group.len() == 1
                    || group.len() <= most && group.iter().copied().sum::<Length>() <= widest
            });
            fits.then_some(groups.len())
        })
        .min()
        .expect("single strips always fit")
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    /// Damper air never dries wood, and no moisture is beyond what wood takes from air.
    #[test]
    fn equilibrium_rises_with_humidity(celsius in -1.0..60.0, low in 0.0..99.0, more in 0.1..1.0) {
        let at = |percent: f64| {
            let air = Humidity::from_percent(percent).expect("a humidity");
            let temperature = Temperature::from_celsius(celsius).expect("mild");
            equilibrium(temperature, air).expect("in range").percent()
        };
        prop_assert!(at(low + more) > at(low));
        prop_assert!((0.0..35.0).contains(&at(low)));
    }

    /// Drying shrinks, wetting swells, the wider moves more, and along the rings more than across.
    #[test]
    fn movement_has_the_sign_of_the_moisture(
        which in 0..woods().len(),
        size in length(10, 1000),
        from in moisture(0.0, 40.0),
        to in moisture(0.0, 40.0),
    ) {
        let figures = woods()[which].figures;
        let Ok(tangential) = change(size, &figures, Direction::Tangential, from, to) else {
            return Ok(());
        };
        let radial = change(size, &figures, Direction::Radial, from, to).expect("both or none");
        if to >= from {
            prop_assert!(tangential >= Length::ZERO && radial >= Length::ZERO);
        } else {
            prop_assert!(tangential <= Length::ZERO && radial <= Length::ZERO);
        }
        prop_assert!(radial.abs() <= tangential.abs());
        prop_assert!(tangential.abs() < size);
        let double = change(size * 2, &figures, Direction::Tangential, from, to).expect("known");
        prop_assert!((double - tangential * 2).abs().nm() <= 2);
    }

    /// What is known of the rings lies within what is reckoned with when nothing is.
    #[test]
    fn unknown_rings_enclose_the_known_ones(
        widths in prop::collection::vec(length(10, 60), 1..6),
        quarter in any::<bool>(),
        from in moisture(6.0, 14.0),
        to in moisture(6.0, 14.0),
    ) {
        let figures = woods()[0].figures;
        let known = if quarter { GrowthRings::QuarterSawn } else { GrowthRings::FlatSawn };
        let board = |rings| {
            let strips: Vec<Strip> = widths
                .iter()
                .map(|width| Strip { width: *width, wood: figures, rings })
                .collect();
            board_movement(&strips, Length::from_mm(40), from, to).expect("known")
        };
        let (exact, range) = (board(known), board(GrowthRings::Unknown));
        prop_assert!(range.width.low <= exact.width.low);
        prop_assert!(exact.width.high <= range.width.high);
    }

    /// A yard's tally is near the volume: it rounds the face by half a square foot at most, cuts the
    /// length back by less than a foot, and counts thin stock as one inch.
    #[test]
    fn a_tally_is_near_the_volume(
        length in length(1220, 4800),
        width in length(76, 400),
        quarters in 4_i64..=16,
    ) {
        let thickness = Length::from_inches(quarters, 4);
        let tallied = tally(length, width, thickness);
        let exact = Volume::of(length, width, thickness).board_feet();
        let inches = quarters as f64 / 4.0;
        let foot_lost = width.inches() / 12.0 * inches;
        let rounded = 0.5 * inches + 1e-9;
        prop_assert!(tallied.board_feet() <= exact + rounded);
        prop_assert!(tallied.board_feet() >= exact - foot_lost - rounded);
    }

    /// Each round makes panels from what was there, none beyond the open time or the machine, and
    /// the last makes the board; and the first has as few groups as trying everything gives.
    #[test]
    fn sub_panels_fit_and_become_the_board(
        widths in prop::collection::vec(length(10, 80), 2..11),
        lines in 1_usize..6,
        widest in length(80, 400),
    ) {
        let spreading = Spreading {
            seconds_per_line: 60.0,
            open_time: Minutes(lines as i64),
            widest: Some(widest),
        };
        let plan = plan_assembly(&widths, &spreading);
        prop_assert_eq!(plan.lines_at_once, lines);
        let mut parts: Vec<_> = (0..widths.len()).map(|strip| strip..strip + 1).collect();
        for round in &plan.rounds {
            for made in &round.parts {
                prop_assert!((1..=lines).contains(&made.glue_lines()));
                let from = parts.iter().position(|part| *part == made.from[0]).expect("there");
                prop_assert_eq!(&parts[from..from + made.from.len()], made.from.as_slice());
                parts.splice(from..from + made.from.len(), [made.strips.clone()]);
            }
        }
        prop_assert_eq!(parts, vec![0..widths.len()]);
        let fewest = fewest_groups(&widths, lines + 1, widest);
        let joined: usize = plan.rounds[0].parts.iter().map(|part| part.from.len() - 1).sum();
        let waived = fewest == widths.len();
        prop_assert!(waived || widths.len() - joined == fewest);
        if !waived {
            for made in &plan.rounds[0].parts {
                prop_assert!(widths[made.strips.clone()].iter().copied().sum::<Length>() <= widest);
            }
        }
    }

    /// Clamps that are said to be enough reach the lower pressure, cover the length, and one fewer
    /// would not do; places lie within the panel and no farther apart than the rule says.
    #[test]
    fn enough_clamps_are_enough_and_no_more(
        panel_length in length(150, 900),
        width in length(50, 500),
        height in length(15, 60),
        caul in length(10, 80),
        gravity in 0.3..0.9,
        newtons in 500.0..9000.0,
    ) {
        let lines = GlueLines::between(8, panel_length, height);
        let rig = Rig {
            caul_depth: caul,
            pad: Length::ZERO,
            jaw_width: Length::from_mm(20),
            outer_strip: Length::from_mm(20),
        };
        let need = clamp_need(&lines, width, pressure_band(gravity), &rig).expect("it spreads");
        let rated = Force::from_newtons(newtons);
        let clamps = need.clamps(rated);
        let presses = |count: i64| newtons * count as f64 >= need.force.low.newtons() * (1.0 - 1e-9);
        let covers = |count: i64| need.spacing * count >= panel_length;
        prop_assert!(presses(clamps) && covers(clamps));
        prop_assert!(clamps == 2 || !presses(clamps - 1) || !covers(clamps - 1));
        let places = placements(panel_length, clamps);
        prop_assert!(places[0].from_end * 2 <= need.spacing + Length::from_nm(2));
        for pair in places.windows(2) {
            prop_assert!(pair[1].from_end - pair[0].from_end <= need.spacing + Length::from_nm(1));
            prop_assert!(pair[0].below != pair[1].below);
        }
        let set = |count| ClampSet { name: "set".to_owned(), reach: need.reach, rated: Some(rated), count };
        prop_assert!(what_it_can_do(&set(clamps), &need).is_enough());
        prop_assert!(!what_it_can_do(&set(clamps - 1), &need).is_enough());
        let halves = [set(clamps / 2), set(clamps - clamps / 2)];
        let picks = take_from_rack(&halves, &need).expect("two halves make a whole");
        prop_assert_eq!(picks.iter().map(|pick| pick.clamps).sum::<i64>(), clamps);
        let too_few = [set(clamps / 2), set(clamps - clamps / 2 - 1)];
        prop_assert_eq!(take_from_rack(&too_few, &need), None);
    }

    /// Every panel is in just one load, and every load of several may really be shared.
    #[test]
    fn shared_loads_hold_every_panel_once(
        panels in prop::collection::vec((length(300, 500), length(80, 300), 0.3..0.9), 1..8),
    ) {
        let panels: Vec<LoadPanel> = panels
            .into_iter()
            .map(|(length, width, gravity)| LoadPanel {
                length,
                width,
                height: Length::from_mm(40),
                clamp_time: Minutes(60),
                pressure: pressure_band(gravity),
                clamps: 4,
            })
            .collect();
        let rules = LoadRules::usual(Length::from_mm(100), Length::from_mm(900));
        let loads = shared_loads(&panels, &rules);
        let mut seen: Vec<usize> = loads.iter().flatten().copied().collect();
        seen.sort_unstable();
        prop_assert_eq!(seen, (0..panels.len()).collect::<Vec<_>>());
        for load in loads {
            let together: Vec<LoadPanel> = load.iter().map(|&place| panels[place]).collect();
            let shared = share_clamps(&together, &rules).expect("it was put together");
            prop_assert_eq!(shared.saved, 4 * (together.len() as i64 - 1));
        }
    }

    #[test]
    fn passes_are_the_thickness(thickness in length(1, 100), depth in length(1, 20)) {
        let passes = passes(thickness, depth).expect("few passes");
        prop_assert_eq!(passes.iter().copied().sum::<Length>(), thickness);
        prop_assert!(passes.iter().all(|pass| pass.is_positive() && *pass <= depth));
        prop_assert!(depth * (passes.len() as i64 - 1) < thickness);
    }

    /// Each step is within the rule or named as a gap; and no grit could be left out.
    #[test]
    fn grits_never_step_too_far_in_silence(
        owned in prop::collection::btree_set(prop::sample::select(vec![40_i64, 50, 60, 80, 100, 120, 150, 180, 220]), 1..9),
        first in prop::sample::select(vec![40_i64, 80, 120]),
    ) {
        let owned: Vec<i64> = owned.into_iter().collect();
        let sequence = grit_sequence(&owned, &[], first, 220, LARGEST_STEP);
        for pair in sequence.grits.windows(2) {
            let too_far = pair[1] as f64 > pair[0] as f64 * LARGEST_STEP + 1e-9;
            let named = sequence.gaps.iter().any(|gap| (gap.from, gap.to) == (pair[0], pair[1]));
            prop_assert_eq!(too_far, named);
        }
        for three in sequence.grits.windows(3) {
            prop_assert!(three[2] as f64 > three[0] as f64 * LARGEST_STEP);
        }
        prop_assert_eq!(sequence.grits.last(), owned.last());
    }
}
