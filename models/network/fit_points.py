"""Trains the network that says where exactly a core or delta lies, on drawn prints (see README.md).

cargo run --release --example network_prints -- 64000000 40000 - - POINTS.bin -
DEV=cpu python3 models/network/fit_points.py STEPS WEIGHTS.bin POINTS.bin...   (DEV=cuda with a GPU)

`--from=`, `--seconds=`, `--seed=` and WEIGHTS.bin.best are as of fit_count.py and fit_trace.py; a folder in place of files is not.
"""

import math
import torch, torch.nn as nn, torch.nn.functional as F
from fit import QUALITIES, cbr, dev, given, learn, load, read, restore_statistics, weather, write

E, S, P = 72, 48, 4.0  # samples along a record's edge and along the network's, samples a period
HEAD = 8
WIDTHS = [16, 24, 32, 48]


class Place(nn.Module):
    """Patch (2 planes) to a core's place and a delta's, each right and down of the middle in periods, and the logarithm of its deviation."""

    def __init__(s):
        super().__init__()
        a, b, c, d = WIDTHS
        s.a = cbr(2, a, 5, 2)  # 24
        s.b = cbr(a, b)
        s.c1 = cbr(b, c, 3, 2)  # 12
        s.c2 = cbr(c, c)
        s.d1 = cbr(c, d, 3, 2)  # 6
        s.d2 = cbr(d, d)
        s.drop = nn.Dropout(0.2)
        s.h1 = nn.Linear(d * 36, 64)
        s.h2 = nn.Linear(64, 6)

    def forward(s, x):
        x = s.d2(s.d1(s.c2(s.c1(s.b(s.a(x))))))
        return s.h2(s.drop(F.relu(s.h1(s.drop(x.flatten(1)))))).reshape(-1, 2, 3)


ORDER = ["a", "b", "c1", "c2", "d1", "d2"]
LAST = ["h1", "h2"]


def train(paths, steps, B, weights, old=None, seconds=None, seed=1):
    h, im = load(paths, HEAD, (2, E, E))
    n = len(h)
    held = min(4000, n // 5)
    print("points", n, "held", held, flush=True)
    h, im = h.to(dev), im.to(dev)  # the first are kept back, so that no print has points on both sides
    rand = lambda *s: torch.rand(*s, device=dev) * 2 - 1
    torch.manual_seed(seed)

    def batch(idx, aug=True):
        hd, I = h[idx], im[idx].float() / 127
        n = len(idx)
        at = hd[:, 1:3].clone()
        kind = hd[:, 0].long()
        if not aug:
            a = (E - S) // 2
            return I[:, :, a : a + S, a : a + S], kind, at
        th = rand(n) * math.radians(20)
        sc, st, sl = torch.exp(rand(n) * 0.14), torch.exp(rand(n) * 0.1), rand(n) * 0.12
        fl = torch.where(rand(n) < 0, -1.0, 1.0)
        c, s = torch.cos(th) * sc, torch.sin(th) * sc
        right = torch.stack([c * fl * st, s * fl * st], 1)
        down = torch.stack([c * sl - s, s * sl + c], 1) / st[:, None]
        A = torch.stack([right, down], 2)  # a step of the new patch on the old one
        # found elsewhere: the middle anywhere about the true place, as often as the program errs
        moved = at + torch.randn(n, 2, device=dev) * 0.35
        moved = torch.where((torch.rand(n, 1, device=dev) < 0.5) & (moved.abs() < 2.0), moved, rand(n, 2) * 0.3)
        T = torch.cat([A * (S / E), (moved * P / (E / 2)).unsqueeze(2)], 2)
        I = F.grid_sample(I, F.affine_grid(T, (n, 2, S, S), align_corners=False), mode="bilinear", align_corners=False)
        at = torch.linalg.solve(A, (at - moved).unsqueeze(2))[:, :, 0]
        return weather(I), kind, at

    net = (Place() if old is None else read(old, Place(), ORDER, LAST)).to(dev)
    if old is not None:
        restore_statistics(net, ORDER, batch(torch.randint(held, n, (B,), device=dev))[0])

    def losses(y, kind, at):
        y = y[torch.arange(len(y), device=dev), kind]
        off = torch.hypot(*(y[:, :2] - at).T + 1e-6)
        sigma = torch.exp(y[:, 2].clamp(-4, 1))
        # the spread of a place on each axis, with the place held fixed; the place itself by its distance, so that a few far ones don't rule
        return off, (0.5 * (off.detach() / sigma) ** 2 + 2 * torch.log(sigma))

    def loss():
        x, kind, at = batch(torch.randint(held, n, (B,), device=dev))
        off, spread = losses(net(x), kind, at)
        return off.mean() + 0.02 * spread.mean(), [off.mean()]

    def look(mean):
        told = []
        for i in range(0, held, 500):
            idx = torch.arange(i, min(i + 500, held), device=dev)
            x, kind, at = batch(idx, False)
            off, spread = losses(mean(x), kind, at)
            px = h[idx, 7]
            told.append(torch.stack([kind.float(), h[idx, 3], off * px, torch.hypot(*at.T) * px, spread, off + 0.02 * spread], 1))
        t = torch.cat(told)
        by = " ".join(
            f"{kind} {name} {t[m, 2].median():.2f} ({t[m, 3].median():.2f})"
            for k, kind in enumerate(["core", "delta"])
            for q, name in enumerate(QUALITIES)
            for m in [(t[:, 0] == k) & (t[:, 1] == q)]
        )
        return t[:, 5].mean(), f"px now (before): {by} spread {t[:, 4].mean():.3f}"

    pace, every = 2e-3 if old is None else 1.6e-3, 20 if dev == "cpu" else 1000
    return learn(net, (ORDER, LAST), steps, seconds, weights, loss, look, pace=pace, every=every)


if __name__ == "__main__":
    steps, weights, paths, options = given()
    write(train(paths, steps, 256, weights, **options), weights, ORDER, LAST)
