// Nothing: a target needs a source to have precompiled headers.
