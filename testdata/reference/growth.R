# How fast mites grew in each colony beside the others of its yard, by lme4::glmer with a random slope over months.
# Writes growth.csv: every wash that was read, and beside each the colony's conditional mode of the slope (log scale, a month
# of 30 days, less the yard's).
#   set sim1 to sim6   invented: yards of 20 colonies washed five times; true is the slope that was drawn
#   set open           the open washes of 2022, colonies with two visits or more, treatments left out of the model on purpose
# Model: mites ~ Poisson(bees * exp(visit of the yard + a_i + b_i * month + e_ij)), a, b, e normal and independent.
suppressMessages(library(lme4))
source("open.R")
set.seed(20221)

slopes <- function(d) {
  d$row <- seq_len(nrow(d)); d$cell <- factor(paste(d$yard, d$visit))
  form <- mites ~ cell + offset(log(bees)) + (1 | colony) + (0 + month | colony) + (1 | row)
  m <- suppressWarnings(glmer(form, data = d, family = poisson,
    control = glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e5), calc.derivs = FALSE)))
  sd <- as.data.frame(VarCorr(m)); cat(d$set[1], paste(sd$grp, round(sd$sdcor, 3)), "\n")
  d$slope <- ranef(m)$colony[as.character(d$colony), "month"]
  d
}

sim <- function(k) {
  n <- 20; months <- 0:4; tau <- 0.35
  yard <- c(0, 0.5, 1, 1.3, 1.5)                       # the yard's own course, about that of a temperate summer
  b <- rnorm(n, 0, tau)
  do.call(rbind, lapply(seq_len(n), function(i) {
    walk <- cumsum(c(0, rnorm(4, 0, 0.3)))             # luck of growth from month to month
    level <- log(0.01) + rnorm(1, 0, 0.6) + yard + b[i] * months + walk
    mites <- rnbinom(5, mu = 300 * exp(level), size = 8)
    data.frame(set = paste0("sim", k), yard = "A", colony = sprintf("h%02d", i), treatment = "none", visit = months,
      date = as.character(as.Date("2026-04-20") + 30 * months), month = months, mites, bees = 300, true = b[i])
  }))
}
w <- washes
day <- as.numeric(as.Date(w$date)); first <- tapply(day, w$colony, min)
w <- w[w$colony %in% names(which(table(w$colony) > 1)), ]
w$month <- (as.numeric(as.Date(w$date)) - first[w$colony]) / 30
open <- data.frame(set = "open", w[c("yard", "colony", "treatment")], visit = w$visit, w["date"], month = as.numeric(w$month), w[c("mites", "bees")], true = NA)
out <- lapply(c(lapply(1:6, sim), list(open)), slopes)
keep <- c("set", "yard", "colony", "treatment", "date", "mites", "bees", "true", "slope")
write_reference("growth.csv", c(attribution, "sets sim1 to sim6 are invented; slope and true are on the log scale, a month of 30 days"),
  do.call(rbind, lapply(out, `[`, keep)), "lme4")
