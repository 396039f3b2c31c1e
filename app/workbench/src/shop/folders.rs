//! Where things are kept between runs, by the XDG rules: what can be made anew in the cache, what the person sets in the
//! configuration, the rest with the data.
//! Promise: names a folder and makes none; `XDG_CACHE_HOME`, `XDG_CONFIG_HOME` and `XDG_DATA_HOME` are obeyed where they
//! are absolute.

use std::path::PathBuf;

use etcetera::BaseStrategy;

const OURS: &str = "probewright";

/// What can be computed anew: `~/.cache/probewright`.
///
/// # Errors
/// When the person has no home folder.
pub fn cache() -> Result<PathBuf, etcetera::HomeDirError> {
    Ok(etcetera::choose_base_strategy()?.cache_dir().join(OURS))
}

/// What cannot: `~/.local/share/probewright`.
///
/// # Errors
/// When the person has no home folder.
pub fn data() -> Result<PathBuf, etcetera::HomeDirError> {
    Ok(etcetera::choose_base_strategy()?.data_dir().join(OURS))
}

/// What the person sets: `~/.config/probewright`.
///
/// # Errors
/// When the person has no home folder.
pub fn configuration() -> Result<PathBuf, etcetera::HomeDirError> {
    Ok(etcetera::choose_base_strategy()?.config_dir().join(OURS))
}
