# Tails and quantiles of the laws behind halfcup, far tails included, in R. Writes numeric.csv.
#   poisson k mean, binomial k n p, nb k mean size: lower = P(X <= k), upper = P(X >= k)
#   gamma shape p, beta a b p: the x with the chance p below (lower) or above (upper) it
#   normal p: the x with the chance p below it
# Each tail is asked for as a tail (lower.tail), never as one minus the other. Every quantile is put back into its own
# distribution function, and must give the chance asked for.
source("open.R")

rows <- list()
add <- function(law, tail, a, b = NA, c = NA, d = NA, value) {
  stopifnot(all(is.finite(value)))
  rows[[length(rows) + 1]] <<- data.frame(law, tail, a, b, c, d, value)
}
cross <- function(...) expand.grid(..., KEEP.OUT.ATTRS = FALSE)

g1 <- cross(k = c(0, 1, 2, 5, 9, 30, 120, 2000), mean = c(1e-6, 0.01, 0.5, 3, 9, 40, 300, 2000))
add("poisson", "lower", g1$k, g1$mean, value = ppois(g1$k, g1$mean))
add("poisson", "upper", g1$k, g1$mean, value = ppois(g1$k - 1, g1$mean, lower.tail = FALSE))

g2 <- cross(k = c(0, 1, 3, 9, 30, 50, 300, 2000), n = c(1, 50, 300, 2000), p = c(1e-6, 0.001, 0.02, 0.2, 0.5, 0.97))
g2 <- g2[g2$k <= g2$n, ]
add("binomial", "lower", g2$k, g2$n, g2$p, value = pbinom(g2$k, g2$n, g2$p))
add("binomial", "upper", g2$k, g2$n, g2$p, value = pbinom(g2$k - 1, g2$n, g2$p, lower.tail = FALSE))

g3 <- cross(k = c(0, 1, 3, 9, 30, 120, 1000), mean = c(0.001, 0.5, 3, 9, 60, 900), size = c(0.3, 1, 4, 16, 48, 400))
add("nb", "lower", g3$k, g3$mean, g3$size, value = pnbinom(g3$k, size = g3$size, mu = g3$mean))
add("nb", "upper", g3$k, g3$mean, g3$size, value = pnbinom(g3$k - 1, size = g3$size, mu = g3$mean, lower.tail = FALSE))

chances <- c(1e-12, 1e-10, 1e-7, 5e-5, 0.005, 0.025, 0.25, 0.5)
back <- function(p, again) stopifnot(abs(again / p - 1) < 1e-9)
for (lower in c(TRUE, FALSE)) {
  tail <- if (lower) "lower" else "upper"
  h <- cross(shape = c(1, 2, 6, 9.5, 31, 101, 2001), p = chances)
  q <- qgamma(h$p, h$shape, lower.tail = lower)
  back(h$p, pgamma(q, h$shape, lower.tail = lower))
  add("gamma", tail, h$shape, h$p, value = q)

  ab <- data.frame(a = c(1, 1, 1, 0.5, 6, 6.5, 9, 36, 31, 295, 300.5, 300, 300, 1001), b = c(30, 100, 300, 300.5, 295, 294.5, 2, 4, 1970, 6, 0.5, 1, 2, 4000))
  h <- merge(ab, data.frame(p = chances))
  q <- qbeta(h$p, h$a, h$b, lower.tail = lower)
  h <- h[q < 1 - 1e-12, ] # beyond, a double beside 1 cannot carry the chance
  q <- q[q < 1 - 1e-12]
  # Next to 1 the spacing of doubles alone moves the chance by eps times the density: let x stand for the whole gap.
  wrong <- abs(pbeta(q, h$a, h$b, lower.tail = lower) - h$p)
  stopifnot(wrong < 1e-9 * h$p + 2e-16 * dbeta(q, h$a, h$b))
  add("beta", tail, h$a, h$b, h$p, value = q)
}
z <- c(chances, 0.75, 0.975, 0.995, 1 - 1e-7)
add("normal", "lower", z, value = qnorm(z))

write_reference("numeric.csv", "tails and quantiles, arguments in the order of numeric.R's head", do.call(rbind, rows))
