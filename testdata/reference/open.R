# The open washes, as the other scripts of this folder read them, and the header lines every output carries.
washes <- read.csv("../open/washes-2022.csv", stringsAsFactors = FALSE)
washes$visit <- factor(washes$visit, c("before", "ten-weeks", "harvest"))

g <- function(x) { # the shortest of 15 or 17 digits that reads back as the same double
  short <- sprintf("%.15g", x)
  ifelse(is.na(x), "", ifelse(suppressWarnings(as.numeric(short)) == x, short, sprintf("%.17g", x)))
}

# What comes from the open washes carries their attribution: CC BY 4.0 asks for it.
attribution <- paste("Worked out from the washes of Aurell D, Bruckner S, Steury TD, Williams GR 2025, J Econ Entomol,",
  "doi 10.1093/jee/toaf126; data doi 10.5281/zenodo.15733143, CC BY 4.0")

write_reference <- function(file, about, rows, packages = character()) {
  script <- sub("--file=", "", grep("--file=", commandArgs(), value = TRUE))
  versions <- c(R.version.string, vapply(packages, function(p) paste(p, packageVersion(p)), ""))
  rows[] <- lapply(rows, function(x) if (is.numeric(x)) g(x) else as.character(x))
  writeLines(c(
    sprintf("# %s. Remake: Rscript %s", paste(versions, collapse = ", "), basename(script)),
    paste("#", about), paste(names(rows), collapse = ","), do.call(paste, c(rows, sep = ","))), file)
}
