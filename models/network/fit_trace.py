"""Trains the network that tells how many ridges lie between a whorl's traced ridge and its right delta, on drawn whorls (see README.md).

cargo run --release --example network_prints -- 110000000 40000 - - - WHORLS.bin
DEV=cpu python3 models/network/fit_trace.py STEPS WEIGHTS.bin WHORLS.bin...   (DEV=cuda with a GPU)

`--seed=N` before the whorls is the seed of the start (1): the two networks in use differ in it and in their whorls. `--from=`, `--seconds=`, a folder of
whorls and WEIGHTS.bin.best are as of fit_count.py.
"""

import torch, torch.nn as nn, torch.nn.functional as F
from fit import GRID, H, QUALITIES, cbr, deepened, dev, given, learn, prints, ptloss, read, restore_statistics, write

ALONG = 64  # places along the traced ridge
READINGS = 9
RIDGES = 8.0  # ridges to one of the network's units
SPREAD = 0.7  # spread of the traced ridge on its map, periods
HELD = 1500  # whorls kept back at most


class Trace(nn.Module):
    """Flow and print to the ridges between: two normal distributions and the weight of the second, and maps: points (9), traced ridge."""

    def __init__(s):
        super().__init__()
        s.i1 = cbr(1, 16, 5, 2)
        s.i2 = cbr(16, 24)
        s.i3 = cbr(24, 40, 3, 2)
        s.f1 = cbr(44, 56)
        for name, i, o in [("d1", 56, 64), ("d2", 64, 96), ("d3", 96, 128)]:
            setattr(s, name, cbr(i, o, 3, 2))
            setattr(s, name + "b", cbr(o, o))
            setattr(s, name + "c", cbr(o, o))
        s.d4 = cbr(128, 128, 3, 2)  # 4
        s.u2 = cbr(128 + 128, 64)
        s.u1 = cbr(64 + 96, 48)
        s.u0 = cbr(48 + 64, 32)
        s.uf = cbr(32 + 56, 24)
        s.out = nn.Conv2d(24, 10, 1)
        s.out.bias.data[:3] = -5.0
        s.out.bias.data[9] = -3.0
        s.drop = nn.Dropout(0.3)
        s.h1 = nn.Linear(128 * 16, 160)
        s.h2 = nn.Linear(160, 5)
        s.kinds = nn.Linear(160, 8)  # only for training

    def forward(s, field, img):
        x = torch.cat([field, s.i3(s.i2(s.i1(img)))], 1)
        a = s.f1(x)
        b = deepened(s, "d1", "d1b", "d1c", a)  # 32
        c = deepened(s, "d2", "d2b", "d2c", b)  # 16
        d = deepened(s, "d3", "d3b", "d3c", c)  # 8
        e = s.d4(d)
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        u = s.u2(torch.cat([up(e), d], 1))
        u = s.u1(torch.cat([up(u), c], 1))
        u = s.u0(torch.cat([up(u), b], 1))
        u = s.uf(torch.cat([up(u), a], 1))
        maps = s.out(u)
        g = F.relu(s.h1(s.drop(e.flatten(1))))
        return s.h2(s.drop(g)), s.kinds(g), maps


DOWN = ["i1", "i2", "i3", "f1"] + [scale + layer for scale in ("d1", "d2", "d3") for layer in ("", "b", "c")] + ["d4"]
WHOLE = ["h1", "h2"]


def parts(y):
    """Means, deviations and logarithms of the shares of the two distributions, in ridges."""
    mu = RIDGES * y[:, [0, 2]]
    sigma = torch.exp(y[:, [1, 3]].clamp(-1.0, 2.5))
    return mu, sigma, F.logsigmoid(torch.stack([-y[:, 4], y[:, 4]], 1))


def between_loss(y, readings):
    mu, sigma, share = (t[:, None, :] for t in parts(y))
    logs = share - 0.5 * ((readings[:, :, None] - mu) / sigma) ** 2 - torch.log(sigma)
    # a few tracings go astray altogether
    logs = torch.logaddexp(torch.logsumexp(logs, 2), torch.tensor(-8.0, device=dev))
    return -logs.mean()


def tracing(y):
    """Probabilities of outer, meeting, inner (three ridges between make inner or outer)."""
    mu, sigma, share = parts(y)
    below = lambda limit: (share.exp() * torch.special.ndtr((limit - mu) / sigma)).sum(1)
    outer, inner = below(-2.5), 1 - below(2.5)
    return torch.stack([outer, 1 - outer - inner, inner], 1)


def line_loss(logits, line):
    x = torch.exp(-((GRID[None, None] - line[:, :, :1]) ** 2) / (2 * SPREAD**2))
    y = torch.exp(-((GRID[None, None] - line[:, :, 1:]) ** 2) / (2 * SPREAD**2))
    target = (y[:, :, :, None] * x[:, :, None, :]).amax(1)
    return F.binary_cross_entropy_with_logits(logits, target)


def train(paths, steps, B, weights, old=None, seconds=None, seed=1):
    records, batch = prints(paths, 2 * ALONG + READINGS, 0.0, ALONG)
    # impressions of one finger stand beside each other: what is kept back are other fingers
    n = len(records.parts[0])
    held = min(HELD, n // 5)
    torch.manual_seed(seed)
    net = (Trace() if old is None else read(old, Trace(), DOWN, WHOLE)).to(dev)
    if old is not None:
        b = batch(torch.randint(held, n, (B,), device=dev))
        restore_statistics(net, DOWN, b[0], b[1])

    def loss():
        idx = torch.randint(held, n, (B,), device=dev)
        b, readings = batch(idx), records.parts[0][idx, H + 2 * ALONG :]
        y, kinds, maps = net(b[0], b[1])
        l1 = between_loss(y, readings)
        l2 = ptloss(maps[:, :9], *b[3:6])
        l3 = line_loss(maps[:, 9], b[8])
        l4 = F.cross_entropy(kinds, b[2])
        return l1 + 0.3 * l2 + 3.0 * l3 + 0.2 * l4, [l1, l2, l3, l4]

    def look(mean):
        told = []
        for i in range(0, held, 250):
            idx = torch.arange(i, min(i + 250, held), device=dev)
            b, h = batch(idx, False), records.parts[0][idx]
            y, _, _ = mean(b[0], b[1])
            readings = h[:, H + 2 * ALONG :]
            p, d = tracing(y), readings[:, 0]
            points = h[:, 20:60].reshape(-1, 8, 5)
            deltas = ((points[..., 0] == 1) & (points[..., 3] > 0.5)).sum(1).float()
            letter = 1 + (d >= 3).long() - (d <= -3).long()
            right = (p.argmax(1) == letter).float()
            clear = ((d.abs() < 2) | (d.abs() > 4)).float()
            each = torch.stack([between_loss(y[j : j + 1], readings[j : j + 1]) for j in range(len(idx))])
            of_letter = -torch.log(p.gather(1, letter[:, None])[:, 0].clamp(min=1e-4))
            told.append(torch.stack([h[:, 2], clear, deltas, right, each, of_letter], 1))
        t = torch.cat(told)
        share = lambda m: f"{t[m, 3].mean():.3f}"
        by = " ".join(
            f"{name} both {share((t[:, 0] == k) & (t[:, 1] > 0) & (t[:, 2] > 1))} one {share((t[:, 0] == k) & (t[:, 1] > 0) & (t[:, 2] < 2))}"
            for k, name in enumerate(QUALITIES)
        )
        said = f"of {n} {by} loss {t[:, 4].mean():.3f} letter {t[:, 5].mean():.3f} clear {t[t[:, 1] > 0, 5].mean():.3f}"
        return t[:, 4].mean() + t[:, 5].mean(), said

    def more():
        nonlocal n
        n = records.more()

    pace, every = 2e-3 if old is None else 1.6e-3, 5 if dev == "cpu" else 500
    return learn(net, (DOWN, WHOLE), steps, seconds, weights, loss, look, more=more, pace=pace, lasting=min(0.999, 1 - 5 / steps), every=every)


if __name__ == "__main__":
    steps, weights, paths, options = given()
    write(train(paths, steps, 192, weights, **options), weights, DOWN, WHOLE)
