# What a sequential plan really does: exact chance of treating and mean sample size. Writes sequential.csv (performance)
# and sequential-plan.csv (the plan as integers).
# Wald 1945, Ann Math Stat 16:117-186. After each unit of 100 bees, with T mites so far in n units: leave when
# T <= slope*n + lower, treat when T >= slope*n + upper, else go on, at most 400 units.
#   Poisson      D = ln(m1/m0), slope = (m1-m0)/D
#   k            negative binomial, D = ln(m1(m0+k) / (m0(m1+k))), slope = k ln((m1+k)/(m0+k)) / D
#   upper = ln((1-beta)/alpha)/D, lower = ln(beta/(1-alpha))/D
# Performance is a recursion over the integers of the plan: the probability of every T at which one goes on, unit by unit.
# No approximation; what is still open after 400 units is in the column `open` (and counted with 400 units).
source("open.R")

plan <- function(m0, m1, k, alpha, beta, units = 400) {
  D <- if (is.infinite(k)) log(m1 / m0) else log(m1 * (m0 + k) / (m0 * (m1 + k)))
  slope <- if (is.infinite(k)) (m1 - m0) / D else k * log((m1 + k) / (m0 + k)) / D
  n <- seq_len(units); lower <- log(beta / (1 - alpha)) / D; upper <- log((1 - beta) / alpha) / D
  list(slope = slope, lower = lower, upper = upper, leave = floor(slope * n + lower), treat = ceiling(slope * n + upper))
}
performance <- function(p, m, k) {
  f <- function(x) if (is.infinite(k)) dpois(x, m) else dnbinom(x, size = k, mu = m)
  above <- function(x) if (is.infinite(k)) ppois(x, m, lower.tail = FALSE) else pnbinom(x, size = k, mu = m, lower.tail = FALSE)
  at <- 0; pr <- 1; leave <- treat <- mean <- 0 # at: totals at which one goes on, pr: their probability
  for (n in seq_along(p$leave)) {
    mean <- mean + sum(pr) # one more unit is taken with this probability
    treat <- treat + sum(pr * above(p$treat[n] - 1 - at))
    if (p$leave[n] >= 0) leave <- leave + sum(vapply(0:p$leave[n], function(t) sum(pr * f(t - at)), 0))
    nxt <- max(0, p$leave[n] + 1):(p$treat[n] - 1)
    pr <- vapply(nxt, function(t) sum(pr * f(t - at)), 0); at <- nxt
  }
  stopifnot(abs(leave + treat + sum(pr) - 1) < 1e-12)
  data.frame(leave, treat, open = sum(pr), mean_units = mean)
}
cases <- data.frame(m0 = c(1, 1, 2, 2), m1 = c(3, 3, 4, 4), k = c(Inf, Inf, Inf, 4.6), alpha = c(0.1, 0.05, 0.1, 0.1), beta = 0.1)
perf <- lines <- list()
for (i in seq_len(nrow(cases))) {
  s <- cases[i, ]; p <- plan(s$m0, s$m1, s$k, s$alpha, s$beta)
  for (m in c(0.5, 1, 1.5, 2, 2.5, 3, 4)) perf[[length(perf) + 1]] <- data.frame(s, mean = m, performance(p, m, s$k))
  lines[[i]] <- data.frame(as.list(s), slope = p$slope, lower = p$lower, upper = p$upper, unit = 1:30,
    leave_at_most = ifelse(p$leave[1:30] < 0, NA, p$leave[1:30]), treat_at_least = p$treat[1:30])
}
units <- "unit 100 bees; m0 low, m1 high, mean: mites per unit; k Inf is Poisson; at most 400 units"
write_reference("sequential.csv", c(units, "leave, treat: exact chance of each answer; mean_units: exact mean number of units taken"),
  do.call(rbind, perf))
write_reference("sequential-plan.csv", c(units, "the first 30 units of each plan; empty where no stop is possible"), do.call(rbind, lines))
