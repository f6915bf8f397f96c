# Exact and score limits for a bare count, in R. Writes intervals-r.csv.
#   garwood          Garwood 1936, Biometrika 28:437-442: gamma quantiles (exact Poisson)
#   clopper-pearson  Clopper & Pearson 1934, Biometrika 26:404-413: beta quantiles
#   wilson           Wilson 1927, J Am Stat Assoc 22:209-212: score limits
#   jeffreys         Brown, Cai & DasGupta 2001, Stat Sci 16:101-133: beta(y+1/2, n-y+1/2) quantiles, 0 at y=0, 1 at y=n
#   mid-p            P(X>y)+P(X=y)/2 = (1-level)/2 and its mirror; no ready-made function, so solved here by uniroot
# Both tails are taken as tails (lower.tail=FALSE), never as 1-q: near 0 that would lose digits.
suppressMessages(library(epiR))

levels <- c(0.5, 0.8, 0.9, 0.95, 0.99, 0.999, 0.9999)
sizes <- c(1, 2, 3, 10, 50, 100, 210, 300, 1000, 5000)
counts <- function(n, over) { # the same list as in intervals.py
  y <- c(0, 1, 2, 3, 6, 9, 15, 30, n %/% 10, n %/% 2, n - 2, n - 1, n)
  y <- y[y >= 0 & y <= n]
  if (over) y <- c(y, n + 1, 2 * n, if (n <= 300) 20 * n)
  sort(unique(y))
}
cases <- function(over) do.call(rbind, lapply(sizes, function(n)
  expand.grid(level = levels, mites = counts(n, over), bees = n)))

midp <- function(y, n, a, outer) { # a = (1-level)/2; the root lies between the Clopper-Pearson limit and y/n
  solve <- function(tail, from, to) plogis(uniroot(function(x) {
    d <- dbinom(y, n, plogis(x), log = TRUE) - log(2)
    t <- tail(plogis(x))
    max(d, t) + log1p(exp(-abs(d - t))) - log(a)
  }, c(from, to), tol = 1e-16, maxiter = 10000)$root)
  q <- function(p) qlogis(pmin(pmax(p, 1e-300), 1 - 1e-16))
  above <- function(p) if (y == n) -1e300 else pbinom(y, n, p, lower.tail = FALSE, log.p = TRUE)
  below <- function(p) if (y == 0) -1e300 else pbinom(y - 1, n, p, log.p = TRUE)
  mid <- q(min(max(y / n, 1e-9), 1 - 1e-9))
  c(if (y == 0) 0 else solve(above, q(outer[1]) - 1e-6, mid),
    if (y == n) 1 else solve(below, mid, q(outer[2]) + 1e-6))
}

limits <- function(kind, y, n, level) {
  a <- (1 - level) / 2
  switch(kind,
    garwood = c(if (y == 0) 0 else qgamma(a, y), qgamma(a, y + 1, lower.tail = FALSE)) / n,
    "clopper-pearson" = c(if (y == 0) 0 else qbeta(a, y, n - y + 1),
                          if (y == n) 1 else qbeta(a, y + 1, n - y, lower.tail = FALSE)),
    jeffreys = c(if (y == 0) 0 else qbeta(a, y + 0.5, n - y + 0.5),
                 if (y == n) 1 else qbeta(a, y + 0.5, n - y + 0.5, lower.tail = FALSE)),
    wilson = { # lower limit as product of roots over upper root: no cancellation
      z <- qnorm(a, lower.tail = FALSE)
      s <- 2 * y + z^2 + z * sqrt(z^2 + 4 * y * (n - y) / n)
      t <- 2 * (n - y) + z^2 + z * sqrt(z^2 + 4 * y * (n - y) / n)
      c(2 * y^2 / n / s, if (y == n) 1 else s / (2 * (n + z^2)))
    },
    "mid-p" = midp(y, n, a, limits("clopper-pearson", y, n, level)))
}

kinds <- c("garwood", "clopper-pearson", "wilson", "jeffreys", "mid-p")
rows <- do.call(rbind, lapply(kinds, function(kind) {
  d <- cases(kind == "garwood")
  l <- mapply(function(y, n, v) limits(kind, y, n, v), d$mites, d$bees, d$level)
  data.frame(kind = kind, mites = d$mites, bees = d$bees, level = d$level, low = l[1, ], high = l[2, ])
}))

# A second opinion from epiR: epi.conf takes events and non-events (wilson), epi.prev events and total (clopper-pearson).
check <- function(kind, other) {
  d <- rows[rows$kind == kind & rows$mites > 0 & rows$mites < rows$bees, ]
  e <- max(unlist(lapply(split(d, d$level), function(g) abs(other(g) - as.matrix(g[, c("low", "high")])))))
  stopifnot(e < 1e-12)
  sprintf("%s %.0e", kind, e)
}
agree <- c(
  check("clopper-pearson", function(g) as.matrix(epi.prev(g$mites, g$bees, se = 1, sp = 1, method = "c-p", units = 1,
                                                          conf.level = g$level[1])$ap[, c("lower", "upper")])),
  check("wilson", function(g) as.matrix(epi.conf(cbind(g$mites, g$bees - g$mites), ctype = "prop.single",
                                                 conf.level = g$level[1])[, c("lower", "upper")])))

out <- "intervals-r.csv"
writeLines(c(
  sprintf("# %s, epiR %s. Remake: Rscript intervals.R", R.version.string, packageVersion("epiR")),
  "# limits are mites per bee; garwood qgamma, clopper-pearson and jeffreys qbeta, wilson closed form, mid-p by uniroot",
  paste("# greatest absolute difference from epiR:", paste(agree, collapse = ", ")),
  "kind,mites,bees,level,low,high",
  sprintf("%s,%d,%d,%.17g,%.17g,%.17g", rows$kind, as.integer(rows$mites), as.integer(rows$bees), rows$level, rows$low, rows$high)
), out)
