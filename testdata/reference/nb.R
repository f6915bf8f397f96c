# Negative binomial size k by maximum likelihood, MASS. Writes nb.csv.
#   leaf counts   mites on 150 leaves, Bliss & Fisher 1953, Biometrics 9:176-200; the counts are from memory. theta.ml at the
#                 mean (1.1467); the paper's own maximum likelihood k is near 1.025 (memory).
#   washes        open washes, between colonies of one yard and visit: glm.nb(mites ~ offset(log(bees))): one mean per bee, one k.
#                 At ten-weeks and harvest the colonies of a yard had different treatments, so k is that of a mixed yard.
#   common        one k for all twelve yard-visits, each with its own mean.
# se_k is MASS's standard error of theta, the means held. log_lik at the maximum, all constants in.
suppressMessages(library(MASS))
source("open.R")

leaves <- rep(0:7, c(70, 38, 17, 10, 9, 3, 2, 1))
k <- theta.ml(leaves, mean(leaves), limit = 200, eps = 1e-12)
row <- function(data, yard, visit, n, mean, k, se, ll) data.frame(data, yard, visit, n, mean, k, se_k = se, log_lik = ll)
rows <- list(row("leaves", "", "", length(leaves), mean(leaves), as.numeric(k), attr(k, "SE"),
  sum(dnbinom(leaves, size = k, mu = mean(leaves), log = TRUE))))
fit <- function(d, form, data, yard, visit) {
  m <- glm.nb(form, data = d, control = glm.control(epsilon = 1e-12, maxit = 200))
  rate <- if (length(coef(m)) == 1) exp(coef(m)[[1]]) else NA
  k <- theta.ml(d$mites, fitted(m), limit = 500, eps = 1e-12) # glm.nb's own SE is that of the step before the last
  row(data, yard, visit, nrow(d), rate, as.numeric(k), attr(k, "SE"), as.numeric(logLik(m)))
}
for (v in levels(washes$visit)) for (y in sort(unique(washes$yard)))
  rows[[length(rows) + 1]] <- fit(washes[washes$visit == v & washes$yard == y, ], mites ~ offset(log(bees)), "washes", y, v)
rows[[length(rows) + 1]] <- fit(washes, mites ~ 0 + interaction(yard, visit) + offset(log(bees)), "common", "all", "all")
write_reference("nb.csv", c("negative binomial k by maximum likelihood; mean is mites per leaf for leaves, mites per bee for washes",
  "leaf counts 0:70 1:38 2:17 3:10 4:9 5:3 6:2 7:1 (Bliss & Fisher 1953, from memory)"), do.call(rbind, rows), "MASS")
