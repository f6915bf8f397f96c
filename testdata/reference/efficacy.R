# By how much did a treatment reduce mites? Writes efficacy.csv. ratio is what is left, reduction = 100 * (1 - ratio).
# Open washes, each treatment against `none`, visit `before` to `ten-weeks` (Henderson & Tilton 1955, J Econ Entomol
# 48:157-161: ratio = (Ta/Tb) * (Cb/Ca), T treated, C control, a after, b before):
#   ht-totals   rates from totals (all mites over all bees of a group at a visit); interval exp(log ratio +- z * se) with
#               se^2 = 1/Ta + 1/Tb + 1/Ca + 1/Cb, so Poisson only: too narrow, as colonies differ far more than that
#   ht-paired   the same from the colonies washed at both visits only
#   ht-means    rates as means of the colonies' own rates, no interval
#   nb-glm      MASS glm.nb, mites ~ visit * treatment + offset(log(bees)), all groups, one k; the interaction is the log ratio,
#               Wald interval. Colonies washed twice are taken as independent.
#   mixed       lme4 glmer, Poisson, the same fixed part with a random intercept per colony and per wash (log-normal
#               overdispersion), Laplace; Wald interval. This is the answer to trust.
# Exact, one pair of counts (conditional on the total the after-count is binomial: Lehmann 1986; Fay 2010, R Journal
# 2(1):53-58), by R's own poisson.test:
#   pair        before and after mites, 300 bees each
#   rates       2 in 17877 against 9 in 16660, the example of the vignette of the R package rateratio.test. p is twice the smaller exact tail, the p that
#               belongs to the interval (here 0.0501; R's own p orders outcomes by their probability and is 0.0331)
#   ten         ten treated against ten control counts: reduction of the mean, t interval on the log ratio with
#               V = s1^2/(n1 m1^2) + s2^2/(n2 m2^2), n1+n2-2 df (Coles et al. 1992, Vet Parasitol 44:35-44)
suppressMessages({library(MASS); library(lme4)})
source("open.R")

row <- function(kind, name, level, ratio, low = NA, high = NA, se = NA, p = NA, counts = rep(NA, 4), bees = rep(NA, 4))
  data.frame(kind, name, level, ratio, low, high, reduction_percent = 100 * (1 - ratio), reduction_low = 100 * (1 - high),
    reduction_high = 100 * (1 - low), se_log = se, p, tb = counts[1], ta = counts[2], cb = counts[3], ca = counts[4],
    tb_bees = bees[1], ta_bees = bees[2], cb_bees = bees[3], ca_bees = bees[4])
wald <- function(kind, name, log_ratio, se, ...) do.call(rbind, lapply(c(0.95, 0.9), function(level) {
  z <- qnorm((1 - level) / 2, lower.tail = FALSE)
  row(kind, name, level, exp(log_ratio), exp(log_ratio - z * se), exp(log_ratio + z * se), se, ...)
}))
d <- droplevels(washes[washes$visit != "harvest", ])
d$treatment <- relevel(factor(d$treatment), "none")
both <- d[d$colony %in% d$colony[duplicated(d$colony)], ]
groups <- function(d, t) list(d[d$treatment == t & d$visit == "before", ], d[d$treatment == t & d$visit != "before", ],
                              d[d$treatment == "none" & d$visit == "before", ], d[d$treatment == "none" & d$visit != "before", ])
ht <- function(r) r[2] / r[1] * r[3] / r[4]
totals <- function(kind, d, t) {
  g <- groups(d, t)
  n <- vapply(g, function(x) sum(x$mites), 0); b <- vapply(g, function(x) sum(x$bees), 0)
  wald(kind, t, log(ht(n / b)), sqrt(sum(1 / n)), counts = n, bees = b)
}
treatments <- setdiff(levels(d$treatment), "none")
nb <- glm.nb(mites ~ visit * treatment + offset(log(bees)), data = d, control = glm.control(epsilon = 1e-12, maxit = 200))
d$wash <- factor(seq_len(nrow(d)))
mixed <- glmer(mites ~ visit * treatment + offset(log(bees)) + (1 | colony) + (1 | wash), data = d, family = poisson,
               control = glmerControl(optimizer = "bobyqa", optCtrl = list(maxfun = 1e6)))
term <- function(t) paste0("visitten-weeks:treatment", t)
rows <- do.call(rbind, lapply(treatments, function(t) rbind(
  totals("ht-totals", d, t), totals("ht-paired", both, t),
  row("ht-means", t, NA, ht(vapply(groups(d, t), function(x) mean(x$mites / x$bees), 0))),
  wald("nb-glm", t, coef(nb)[[term(t)]], sqrt(vcov(nb)[term(t), term(t)])),
  wald("mixed", t, fixef(mixed)[[term(t)]], sqrt(vcov(mixed)[term(t), term(t)])))))

exact <- function(kind, x, bees, level) { # x = after or treated first
  e <- poisson.test(x, bees, conf.level = level)
  share <- bees[1] / sum(bees)
  p <- min(1, 2 * pbinom(x[1], sum(x), share), 2 * pbinom(x[1] - 1, sum(x), share, lower.tail = FALSE))
  row(kind, paste(rev(x), collapse = "-"), level, e$estimate[[1]], e$conf.int[1], e$conf.int[2], p = p,
      counts = c(x[2], x[1], NA, NA), bees = c(bees[2], bees[1], NA, NA))
}
for (p in list(c(18, 3), c(9, 1), c(12, 0), c(30, 6), c(6, 2), c(45, 4))) for (level in c(0.95, 0.9))
  rows <- rbind(rows, exact("pair", rev(p), c(300, 300), level))
rows <- rbind(rows, exact("rates", c(2, 9), c(17877, 16660), 0.95))
control <- c(12, 7, 15, 9, 20, 11, 8, 14, 10, 14); treated <- c(1, 0, 2, 0, 3, 1, 0, 2, 1, 0)
v <- var(control) / length(control) / mean(control)^2 + var(treated) / length(treated) / mean(treated)^2
for (level in c(0.95, 0.9)) {
  h <- qt((1 - level) / 2, 18, lower.tail = FALSE) * sqrt(v); r <- mean(treated) / mean(control)
  rows <- rbind(rows, row("ten", "ten-against-ten", level, r, r * exp(-h), r * exp(h), se = sqrt(v)))
}
vc <- as.data.frame(VarCorr(mixed))
write_reference("efficacy.csv", c(attribution, "ratio = share of mites left; kinds are explained in efficacy.R; tb ta cb ca: mites treated before, after, control before, after",
  sprintf("nb-glm k %.6f (SE %.6f); mixed SD between colonies %.6f, between washes %.6f", nb$theta, nb$SE.theta,
          vc$sdcor[vc$grp == "colony"], vc$sdcor[vc$grp == "wash"])), rows, c("MASS", "lme4"))
