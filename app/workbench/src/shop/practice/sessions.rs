//! Sessions of practice that are kept: a file each in a folder beside the journal, written whole after every act.
//! Idea: settings and acts are all there is to a session, so that its file is what `practice --replay` reads, and the
//! memory holds no more than the sessions used last.
//! Promise: an act that was acknowledged survives a restart; a form sent twice counts once; minutes are never given back.
//! Limit: a sheet that was changed so that what was done is no longer possible ends its sessions.

use std::collections::VecDeque;
use std::io;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use drawing::{Layout, Width};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::super::machines::{NoMachine, Ready};
use super::super::refusal::{Place, Reason, Refusal};
use super::super::workshop::Workshop;
use super::super::written;
use super::{Act, Kept, Practice, Settings, Told};

mod ending;

pub use ending::{Ended, Finished};

/// Sessions in memory.
const MOST: usize = 4;
/// Keys of forms that are remembered for each session.
const KEYS: usize = 32;
/// Nobody does more than this in one session.
const MOST_ACTS: usize = 2000;
/// What names are made of: nothing that looks like something else.
const LETTERS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
/// Letters of a name.
const LENGTH: usize = 8;

/// The folder of sessions.
pub struct Sessions {
    folder: PathBuf,
    /// The one used last at the front.
    open: Mutex<VecDeque<Open>>,
}

/// A session in memory.
struct Open {
    id: String,
    /// What stands for the sheet that it was read with.
    sheet: String,
    session: Arc<Mutex<Session>>,
}

/// A session as its file has it.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Filed {
    #[serde(flatten)]
    kept: Kept,
    /// The machine's name in the workshop.
    name: String,
    /// What stands for its sheet.
    sheet: String,
    /// Keys of the latest forms.
    keys: Vec<String>,
}

/// A session at work.
pub struct Session {
    /// Its name.
    pub id: String,
    /// The machine's name in the workshop.
    pub name: String,
    /// The machine.
    pub ready: Arc<Ready>,
    /// The session itself.
    pub practice: Practice,
    /// Whether the machine's sheet has changed since it was begun.
    pub changed: bool,
    /// The latest act that told something, and what it told; moving leads and controls tells nothing.
    pub told: Option<(Act, Told)>,
    /// Whether leads or controls were moved since.
    pub moved: bool,
    /// Controls that were moved along by the very last act.
    pub along: Vec<String>,
    sheet: String,
    keys: Vec<String>,
    ending: ending::Ending,
    /// The drawing's plan between a phone's and a screen's width; it is work, and the same every time.
    plan: OnceLock<Layout>,
}

/// A session that can be gone on with.
pub struct Brief {
    /// Its name.
    pub id: String,
    /// The machine's name in the workshop.
    pub name: String,
}

/// Why a session cannot be had, or an act not be done.
#[derive(Debug, thiserror::Error)]
pub enum NotDone {
    /// There is none of that name.
    #[error("there is no session of that name")]
    Unknown,
    /// Its machine cannot be used.
    #[error("the sheet of `{0}` has problems")]
    NoMachine(String),
    /// The machine's sheet is gone or cannot be read.
    #[error(transparent)]
    Machine(#[from] NoMachine),
    /// Its machine is another one now.
    #[error("the sheet of `{0}` has changed since, and what was done is no longer possible on it")]
    Changed(String),
    /// The act is refused.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The file cannot be read or written.
    #[error("the session `{}`", path.display())]
    Disk {
        /// Which.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl Sessions {
    /// The sessions in a folder, which need not be there yet.
    pub fn new(folder: PathBuf) -> Self {
        Self { folder, open: Mutex::default() }
    }

    /// The sessions worked at last, the latest first.
    pub fn latest(&self, most: usize) -> Vec<Brief> {
        let files = std::fs::read_dir(&self.folder).into_iter().flatten().flatten();
        let dated = files.filter_map(|file| Some((file.metadata().ok()?.modified().ok()?, file.path())));
        let mut dated: Vec<_> = dated.filter(|(_, path)| path.extension().is_some_and(|end| end == "json")).collect();
        dated.sort_by(|left, right| right.cmp(left));
        let brief = |path: PathBuf| {
            let id = path.file_stem()?.to_str().filter(|id| is_id(id))?.to_owned();
            let name = self.filed(&id).ok()?.name;
            Some(Brief { id, name })
        };
        dated.into_iter().filter_map(|(_, path)| brief(path)).take(most).collect()
    }

    fn path(&self, id: &str) -> PathBuf {
        self.folder.join(format!("{id}.json"))
    }

    fn filed(&self, id: &str) -> Result<Filed, NotDone> {
        if !is_id(id) {
            return Err(NotDone::Unknown);
        }
        let path = self.path(id);
        let text = std::fs::read_to_string(&path).map_err(|source| match source.kind() {
            io::ErrorKind::NotFound => NotDone::Unknown,
            _ => NotDone::Disk { path: path.clone(), source },
        })?;
        serde_json::from_str(&text).map_err(|error| NotDone::Disk { path, source: io::Error::other(error) })
    }

    fn keep(&self, session: &Session) -> Result<(), NotDone> {
        let path = self.path(&session.id);
        let write = || {
            std::fs::create_dir_all(&self.folder)?;
            written::keep(&path, &(serde_json::to_string(&session.filed())? + "\n"))
        };
        write().map_err(|source| NotDone::Disk { path: path.clone(), source })
    }

    /// Puts a session in front; sessions that somebody works at this moment are never put away.
    fn opened(open: &mut VecDeque<Open>, session: Session) -> Arc<Mutex<Session>> {
        let (id, sheet) = (session.id.clone(), session.ready.fingerprint.clone());
        let session = Arc::new(Mutex::new(session));
        open.push_front(Open { id, sheet, session: session.clone() });
        while let Some(last) = open.iter().rposition(|known| Arc::strong_count(&known.session) == 1)
            && open.len() > MOST
        {
            open.remove(last);
        }
        session
    }
}

impl Session {
    fn new(id: &str, filed: &Filed, ready: Arc<Ready>) -> Result<Self, Refusal> {
        let practice = Practice::begin(ready.machine.clone(), filed.kept.settings.clone())?;
        let mut session = Self {
            id: id.to_owned(),
            name: filed.name.clone(),
            changed: ready.fingerprint != filed.sheet,
            practice,
            told: None,
            moved: false,
            along: Vec::new(),
            sheet: filed.sheet.clone(),
            keys: filed.keys.clone(),
            ending: ending::Ending::default(),
            plan: OnceLock::new(),
            ready,
        };
        filed.kept.acts.iter().try_for_each(|act| session.act(act.clone()))?;
        Ok(session)
    }

    fn filed(&self) -> Filed {
        let kept = self.practice.kept();
        Filed { kept, name: self.name.clone(), sheet: self.sheet.clone(), keys: self.keys.clone() }
    }

    fn act(&mut self, act: Act) -> Result<(), Refusal> {
        let told = self.practice.act(act.clone())?;
        self.along.clear();
        if let Told::Set(along) = told {
            self.along = along;
            self.moved = true;
        } else {
            self.told = Some((act, told));
            self.moved = false;
            self.ending = ending::Ending::default();
        }
        Ok(())
    }

    /// The plan of the machine's drawing, for a phone or for half a screen.
    pub fn plan(&self, narrow: bool) -> &Layout {
        if narrow {
            return self.ready.layout(true);
        }
        self.plan.get_or_init(|| Layout::new(self.practice.machine(), Width::Print))
    }

    /// What would be read now, with its minutes; nothing while the instrument is not connected.
    pub fn connected(&self) -> Option<(machine::Probe, f64)> {
        let name = self.practice.hand.probe().ok()?;
        self.priced(&name)
    }

    /// A probe by its name, with what it would cost now.
    pub fn priced(&self, name: &str) -> Option<(machine::Probe, f64)> {
        let probe = self.practice.machine().probe(name).ok()?;
        let price = self.practice.purse.price(&probe);
        Some((probe, price))
    }
}

impl Workshop {
    /// Begins a session with a machine; the same key gives the same session.
    ///
    /// # Errors
    /// When the machine cannot be used, nobody would notice such a fault, or the session cannot be written.
    pub fn begin_practice(&self, name: &str, settings: Settings, key: &str) -> Result<String, NotDone> {
        let id = id(&self.secret, name, key);
        let mut open = lock(&self.sessions.open);
        if self.sessions.path(&id).exists() {
            return Ok(id);
        }
        let ready = self.ready(name)?.ok_or_else(|| NotDone::NoMachine(name.to_owned()))?;
        self.desks.prepare(&ready);
        let kept = Kept { machine: ready.machine.sheet.id.clone(), settings, acts: Vec::new() };
        let filed = Filed { kept, name: name.to_owned(), sheet: ready.fingerprint.clone(), keys: Vec::new() };
        let session = Session::new(&id, &filed, ready)?;
        self.sessions.keep(&session)?;
        Sessions::opened(&mut open, session);
        Ok(id)
    }

    /// A session, from memory or from its file.
    ///
    /// # Errors
    /// When there is none, or its machine cannot be used.
    pub fn practice(&self, id: &str) -> Result<Arc<Mutex<Session>>, NotDone> {
        let filed = self.sessions.filed(id)?;
        let ready = self.ready(&filed.name)?.ok_or_else(|| NotDone::NoMachine(filed.name.clone()))?;
        let mut open = lock(&self.sessions.open);
        let index = open.iter().position(|known| known.id == id);
        // One of an older sheet is read anew.
        if let Some(known) = index.and_then(|index| open.remove(index)).filter(|known| known.sheet == ready.fingerprint)
        {
            let session = known.session.clone();
            open.push_front(known);
            return Ok(session);
        }
        // What was written last, now that nobody else can open it.
        let filed = self.sessions.filed(id)?;
        let session = Session::new(id, &filed, ready).map_err(|_| NotDone::Changed(filed.name.clone()))?;
        Ok(Sessions::opened(&mut open, session))
    }

    /// Does one thing in a session, once for each key.
    ///
    /// # Errors
    /// When it is refused, or cannot be kept; nothing has happened then.
    pub fn act(&self, session: &mut Session, act: Act, key: &str) -> Result<(), NotDone> {
        self.done(session, key, |session| session.act(act))
    }

    /// Reads all that the mended machine must show; nothing while the table is not there.
    ///
    /// # Errors
    /// When the machine is not mended, or what was read cannot be kept.
    pub fn check_repair(&self, session: &mut Session, key: &str) -> Result<(), NotDone> {
        let ready = session.ready.clone();
        self.done(session, key, |session| {
            let checked = self.desks.trial(&ready, |bench| session.practice.repair_check(bench));
            session.ending = ending::Ending::default();
            checked.map_or(Ok(()), |checked| checked.map(|_| ()))
        })
    }

    fn done(
        &self,
        session: &mut Session,
        key: &str,
        work: impl FnOnce(&mut Session) -> Result<(), Refusal>,
    ) -> Result<(), NotDone> {
        if session.keys.iter().any(|known| known == key) {
            return Ok(());
        }
        let before = session.filed();
        if before.kept.acts.len() >= MOST_ACTS {
            let message = "this session has grown too long".to_owned();
            return Err(Refusal::new(Reason::Form, Place::Request, message, "", "a new session").into());
        }
        work(session)?;
        session.keys.push(key.to_owned());
        let surplus = session.keys.len().saturating_sub(KEYS);
        session.keys.drain(..surplus);
        self.sessions.keep(session).inspect_err(|_| {
            // What is not kept has not happened.
            if let Ok(back) = Session::new(&session.id.clone(), &before, session.ready.clone()) {
                *session = back;
            }
        })
    }
}

/// Whether it could be the name of a session.
fn is_id(id: &str) -> bool {
    id.len() == LENGTH && id.bytes().all(|letter| LETTERS.contains(&letter))
}

/// The name of the session that a form with that key begins.
fn id(secret: &str, name: &str, key: &str) -> String {
    let digest = Sha256::new().chain_update(secret).chain_update(name).chain_update("/").chain_update(key).finalize();
    digest.iter().take(LENGTH).map(|byte| char::from(LETTERS[usize::from(byte % 32)])).collect()
}

/// A thread that fell over has left nothing half done: what counts is in the file.
pub fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}
