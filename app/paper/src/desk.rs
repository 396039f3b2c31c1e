//! What the typesetting library may see: the template, its data, the files that were handed over, fonts of the program.
//! Fonts: Libertinus Serif (SIL Open Font License 1.1) and DejaVu Sans Mono (Bitstream Vera license), regular and bold;
//! the licenses lie beside them.
//! Promise: anything else it asks for is not there; no date.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

use crate::{DATA, File, PaperError};

const MAIN: &str = "main.typ";

/// Fonts that are set with.
const FILES: [&[u8]; 4] = [
    include_bytes!("../fonts/LibertinusSerif-Regular.otf"),
    include_bytes!("../fonts/LibertinusSerif-Bold.otf"),
    include_bytes!("../fonts/DejaVuSansMono.ttf"),
    include_bytes!("../fonts/DejaVuSansMono-Bold.ttf"),
];

static FONTS: LazyLock<Vec<Font>> =
    LazyLock::new(|| FILES.into_iter().flat_map(|bytes| Font::iter(Bytes::new(bytes))).collect());
static BOOK: LazyLock<LazyHash<FontBook>> = LazyLock::new(|| LazyHash::new(FontBook::from_fonts(FONTS.iter())));
static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(<Library as LibraryExt>::default()));

/// Template, data and files of one document.
pub(crate) struct Desk {
    main: FileId,
    template: Source,
    files: BTreeMap<String, Bytes>,
}

impl Desk {
    pub(crate) fn new(template: &str, json: &str, files: Vec<File>) -> Result<Self, PaperError> {
        let main = id(MAIN)?;
        let mut known = BTreeMap::from([(DATA.to_owned(), Bytes::from_string(json.to_owned()))]);
        for file in files {
            if file.name.contains(['/', '\\']) || id(&file.name).is_err() {
                return Err(PaperError::Name(file.name));
            }
            known.insert(file.name, Bytes::new(file.bytes));
        }
        Ok(Self { main, template: Source::new(main, template.to_owned()), files: known })
    }
}

fn id(name: &str) -> Result<FileId, PaperError> {
    let path = VirtualPath::new(name).map_err(|_| PaperError::Name(name.to_owned()))?;
    Ok(FileId::new(RootedPath::new(VirtualRoot::Project, path)))
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &BOOK
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        match id == self.main {
            true => Ok(self.template.clone()),
            false => Err(FileError::AccessDenied),
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let path = id.get();
        let own = matches!(path.root(), VirtualRoot::Project);
        let file = self.files.get(path.vpath().get_without_slash()).filter(|_| own);
        file.cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
