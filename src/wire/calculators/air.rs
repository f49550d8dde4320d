//! Air and the moisture that wood settles at in it.

use super::super::reading::{Node, Object};
use super::answer::moisture;
use crate::calc::advice::Air;
use crate::calc::wood::equilibrium;
use crate::units::{Humidity, Moisture, Temperature};

/// Names of the two fields of air.
pub(super) const AIR_FIELDS: [&str; 2] = ["temperature_c", "relative_humidity_percent"];

/// Temperature and humidity as fields of `object`, and the moisture that goes with them.
pub(super) fn air(object: &Object<'_>) -> Option<(Temperature, Humidity, Moisture)> {
    let temperature = object.required("temperature_c", |field| {
        let celsius = field.number(-20.0..=132.0)?;
        match Temperature::from_celsius(celsius) {
            Ok(temperature) => Some(temperature),
            Err(error) => field.refuse(error.to_string()),
        }
    });
    let humidity = object.required("relative_humidity_percent", |field| {
        let percent = field.number(0.0..=100.0)?;
        match Humidity::from_percent(percent) {
            Ok(humidity) => Some(humidity),
            Err(error) => field.refuse(error.to_string()),
        }
    });
    let (temperature, humidity) = (temperature?, humidity?);
    match equilibrium(temperature, humidity) {
        Ok(settled) => Some((temperature, humidity, settled)),
        Err(error) => object.node().refuse(error.to_string()),
    }
}

/// A moisture given as `NAME_mc_percent`, or as the air that it comes from in `NAME_air`.
pub(super) fn moisture_or_air(object: &Object<'_>, name: &str) -> Option<Moisture> {
    let (by_moisture, by_air) = (format!("{name}_mc_percent"), format!("{name}_air"));
    match (object.field(&by_moisture), object.field(&by_air)) {
        (Some(field), None) => moisture(&field),
        (None, Some(field)) => air_node(&field),
        (None, None) => object.required(&by_moisture, |_: Node<'_>| None),
        (Some(_), Some(field)) => field.refuse(format!(
            "is given beside {by_moisture}; must be only one of the two"
        )),
    }
}

fn air_node(node: &Node<'_>) -> Option<Moisture> {
    let object = node.object(&AIR_FIELDS)?;
    air(&object).map(|(_, _, settled)| settled)
}

/// Air as an object of its own.
pub(super) fn air_of(node: &Node<'_>) -> Option<Air> {
    let object = node.object(&AIR_FIELDS)?;
    air(&object).map(|(temperature, humidity, _)| Air {
        temperature,
        humidity,
    })
}
