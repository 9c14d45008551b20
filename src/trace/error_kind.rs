//! The kinds of error, each with the stable id that docs/messages.md explains it under.

macro_rules! kinds {
    ($($(#[doc = $meaning:literal])+ $kind:ident $id:literal,)*) => {
        /// What went wrong, by matter. docs/messages.md has a section for each.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        #[non_exhaustive]
        pub enum ErrorKind {
            $($(#[doc = $meaning])+ $kind,)*
        }

        impl ErrorKind {
            /// Every kind, in the order of docs/messages.md.
            pub const ALL: &'static [ErrorKind] = &[$(ErrorKind::$kind,)*];

            /// Stable id: the heading in docs/messages.md.
            pub const fn id(self) -> &'static str {
                match self { $(ErrorKind::$kind => $id,)* }
            }
        }
    };
}

kinds! {
    /// Several faults of one input, found in one pass; `Error::parts` lists them.
    Several "several",
    /// The operating system refused.
    System "system",
    /// A folder, pipe or device stands where a file is needed.
    NotAFile "not-a-file",
    /// The file is larger than a file of its kind can be.
    FileTooLarge "file-too-large",
    /// A text file is not UTF-8.
    NotUtf8 "not-utf-8",
    /// The file holds nothing.
    EmptyFile "empty-file",
    /// The file is neither a WAV file nor a table of samples.
    NotARecording "not-a-recording",
    /// A WAV file is cut off or holds no samples.
    DamagedWav "damaged-wav",
    /// A WAV file whose format is not supported.
    WavFormat "wav-format",
    /// A sample rate that no logger has.
    SampleRate "sample-rate",
    /// Samples are infinite or not a number.
    NotFinite "not-finite",
    /// Cells of a table are not numbers.
    NotANumber "not-a-number",
    /// A number can be read in two ways because of its thousands separators.
    ThousandsSeparator "thousands-separator",
    /// No row of a table is complete.
    NoCompleteRow "no-complete-row",
    /// The times of a table are unclear.
    UnclearTime "unclear-time",
    /// The file changed while it was read.
    FileChanged "file-changed",
    /// What was asked for needs a whole recording, not one that is still growing.
    NeedsWholeRecording "needs-whole-recording",
    /// Nothing says which channel or column is meant.
    ChannelNotNamed "channel-not-named",
    /// The recording has no such channel or column.
    NoSuchChannel "no-such-channel",
    /// The channel or column cannot serve as what the job file calls it.
    UnsuitableChannel "unsuitable-channel",
    /// The scale of a channel is not given.
    MissingScale "missing-scale",
    /// The scale of a channel cannot be right.
    WrongScale "wrong-scale",
    /// A load of known current from which no scale follows.
    KnownLoad "known-load",
    /// The job file is not TOML.
    JobSyntax "job-syntax",
    /// The job file describes no prep.
    NoPrep "no-prep",
    /// A key or word of the job file is not known.
    UnknownKey "unknown-key",
    /// A required key of the job file is missing.
    MissingKey "missing-key",
    /// A value of the job file has the wrong type.
    WrongType "wrong-type",
    /// Keys of the job file exclude each other.
    ConflictingKeys "conflicting-keys",
    /// A value of the job file is impossible.
    InvalidValue "invalid-value",
    /// The file that a job names as its rehearsal is none.
    NotARehearsal "not-a-rehearsal",
    /// A target that no start can be scored against.
    UnusableTarget "unusable-target",
    /// The run sheet as a whole cannot be used.
    SheetForm "sheet-form",
    /// A cell of the run sheet cannot be used.
    SheetCell "sheet-cell",
    /// The file is not a table of starts, or one of its rows is not whole.
    StartsTable "starts-table",
    /// A value in a table of starts cannot be right.
    StartsValue "starts-value",
    /// The file is no page that tells the files it was made from.
    NotAPage "not-a-page",
    /// A start would be counted twice.
    CountedTwice "counted-twice",
    /// The folder holds no recordings.
    NoRecordings "no-recordings",
    /// The recordings hold no rest to lay made starts onto.
    NoRest "no-rest",
    /// There are no starts for this answer.
    NoStarts "no-starts",
    /// The input is no job, and only a job can be asked for this.
    NotAJob "not-a-job",
    /// The run sheet plans nothing to strike.
    NothingPlanned "nothing-planned",
    /// The recording is not the one that the run sheet was filled from.
    AnotherRecording "another-recording",
    /// The recording lies outside the job's folder.
    OutsideTheJob "outside-the-job",
    /// The run sheet has no such row or start.
    NoSuchRow "no-such-row",
    /// No prep has this name.
    UnknownPrep "unknown-prep",
    /// One name stands for two preps.
    AmbiguousPrep "ambiguous-prep",
    /// No start has this measure or column.
    UnknownColumn "unknown-column",
    /// A parameter has a value it cannot have.
    InvalidParameter "invalid-parameter",
    /// Something the question needs was not given.
    IncompleteQuestion "incomplete-question",
    /// The output would overwrite something that must be kept.
    OutputExists "output-exists",
    /// The outputs asked for cannot be written as named.
    OutputUnclear "output-unclear",
}
