# A yard as one population: mites ~ Poisson(bees * exp(mu + b)), b ~ Normal(0, sigma^2) between colonies, lme4::glmer with
# offset log(bees) and 25-point adaptive Gauss-Hermite quadrature (one random effect, so this is as good as exact).
# Writes yards.csv (mu, sigma) and yards-colonies.csv (each colony's own rate pulled toward its yard).
#   yard and visit      every colony of that yard, whatever its treatment
#   yard "all"          every yard of that visit together; group none: untreated, treated: the rest, all: both
# mu is the mean of ln(mites per bee); se_mu, se_sigma from the inverse Hessian of glmer's own deviance function.
# Colony rates are per bee, given the fitted mu and sigma (empirical Bayes): mode = exp(mu + glmer's conditional mode);
# median, low, high = 50, 2.5, 97.5 % points of the conditional density, by a sum over 20001 points of b.
# This is maximum likelihood with Poisson counts: no prior on mu and sigma, no frame-to-frame blur.
suppressMessages(library(lme4))
source("open.R")

fit <- function(d, yard, visit, group) {
  form <- mites ~ 1 + offset(log(bees)) + (1 | colony)
  ctl <- glmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 20000), calc.derivs = FALSE)
  m <- glmer(form, data = d, family = poisson, nAGQ = 25, control = ctl)
  mu <- fixef(m)[[1]]; sigma <- getME(m, "theta")[[1]]
  dev <- glmer(form, data = d, family = poisson, nAGQ = 25, control = ctl, devFunOnly = TRUE)
  h <- optimHess(c(sigma, mu), dev, control = list(ndeps = c(1e-4, 1e-4))) / 2
  se <- sqrt(diag(solve(h)))
  b <- seq(-12, 12, length.out = 20001) * max(sigma, 0.01)
  # Independent check of the maximum: the same likelihood by a plain sum over b, maximised by optim.
  nll <- function(p) {
    x <- seq(-9, 9, length.out = 2001); w <- dnorm(x); w <- w / sum(w)
    -sum(log(vapply(seq_len(nrow(d)), function(i)
      sum(w * dpois(d$mites[i], d$bees[i] * exp(p[1] + exp(p[2]) * x))), 0)))
  }
  o <- optim(c(mu, log(sigma)), nll, control = list(reltol = 1e-14, maxit = 2000))
  stopifnot(abs(o$par[1] - mu) < 1e-4, abs(exp(o$par[2]) - sigma) < 1e-4)
  q <- t(vapply(seq_len(nrow(d)), function(i) {
    w <- dpois(d$mites[i], d$bees[i] * exp(mu + b), log = TRUE) + dnorm(b, 0, sigma, log = TRUE)
    w <- exp(w - max(w)); at <- (cumsum(w) - w / 2) / sum(w)
    exp(mu + approx(at, b, c(0.5, 0.025, 0.975), ties = "ordered")$y)
  }, numeric(3)))
  mode <- exp(mu + ranef(m)$colony[d$colony, 1])
  list(yard = data.frame(yard, visit, group, colonies = nrow(d), mu, se_mu = se[2], sigma, se_sigma = se[1], log_lik = -o$value),
       colonies = data.frame(yard, visit, colony = d$colony, mites = d$mites, bees = d$bees, mode,
                             median = q[, 1], low = q[, 2], high = q[, 3]))
}
fits <- list()
for (v in levels(washes$visit)) for (y in sort(unique(washes$yard)))
  fits[[length(fits) + 1]] <- fit(washes[washes$visit == v & washes$yard == y, ], y, v, "all")
colonies <- do.call(rbind, lapply(fits, `[[`, "colonies"))
for (v in levels(washes$visit)) {
  d <- washes[washes$visit == v, ]
  fits <- c(fits, list(fit(d, "all", v, "all"), fit(d[d$treatment == "none", ], "all", v, "none"),
                       fit(d[d$treatment != "none", ], "all", v, "treated")))
}
about <- c(attribution, "Poisson log-normal between colonies by lme4::glmer, nAGQ 25, offset log(bees); rates are mites per bee",
           "maximum likelihood: no prior, no frame-to-frame blur; log_lik with all constants")
write_reference("yards.csv", about, do.call(rbind, lapply(fits, `[[`, "yard")), "lme4")
write_reference("yards-colonies.csv", about, colonies, "lme4")
