"""Trains the network that counts the ridges of a loop between delta and core, on drawn loops (see README.md).

cargo run --release --example network_prints -- 100000000 40000 - STRIPS.bin - -
DEV=cpu python3 models/network/fit_count.py STEPS WEIGHTS.bin STRIPS.bin...   (DEV=cuda with a GPU)

With --from=OLD.bin before the strips, training goes on from those weights on other strips, at four fifths of the pace. In place of files a folder
may stand, to which files may come while the network learns (written elsewhere and moved there whole); with --seconds=N it learns for so long,
STEPS being what is expected of that time. The first strips of the first file, by name, are kept back; the weights that were best on them are written
beside the last ones as WEIGHTS.bin.best.
"""

import torch, torch.nn as nn, torch.nn.functional as F
from fit import QUALITIES, Records, cbr, deepened, dev, given, learn, read, restore_statistics, weather, write

H, L, P = 64, 240, 5.0  # rows, columns, samples a period
BEFORE = 6.0  # periods of print before the delta
MARK = 1.5  # spread of the marks of delta and core, periods
COUNTED = 40
HELD = 1500  # strips kept back at most
READINGS = 9
HEAD = 10 + 2 * COUNTED + READINGS
MOST = 48  # counts that are told apart
WIDTHS = [24, 40, 64, 96, 128]  # channels from the finest scale to the coarsest
LONGEST = L / P - 2 * BEFORE


class Count(nn.Module):
    """Strip and marks (3 planes) to maps at half its width (ridges counted, delta, core) and five numbers: what either of two counts has
    more than the sum of the first map, in ridges, and the logarithm of its deviation; how the shares of the two part."""

    def __init__(s):
        super().__init__()
        a, b, c, d, e = WIDTHS
        s.a1 = cbr(3, 16, 5)
        s.a2 = cbr(16, a)
        for name, i, o in zip("bcde", WIDTHS, WIDTHS[1:]):
            setattr(s, name + "1", cbr(i, o, 3, 2))
            setattr(s, name + "2", cbr(o, o))
            setattr(s, name + "3", cbr(o, o))
        s.ud = cbr(e + d, 64)
        s.uc = cbr(64 + c, 48)
        s.ub = cbr(48 + b, 24)
        s.out = nn.Conv2d(24, 3, 1)
        s.drop = nn.Dropout(0.3)
        s.h1 = nn.Linear(e * 15, 96)
        s.h2 = nn.Linear(96, 5)
        s.out.bias.data[:] = -6.0  # ten ridges in all
        s.h2.bias.data[3:] = torch.tensor([0.7, -2.0])  # the second count: wide, an eighth

    def forward(s, x):
        coarser = lambda name, x: deepened(s, name + "1", name + "2", name + "3", x)
        b = coarser("b", s.a2(s.a1(x)))  # 32 x 120
        c = coarser("c", b)  # 16 x 60
        d = coarser("d", c)  # 8 x 30
        e = coarser("e", d)  # 4 x 15
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        u = s.ud(torch.cat([up(e), d], 1))
        u = s.uc(torch.cat([up(u), c], 1))
        u = s.ub(torch.cat([up(u), b], 1))
        y = s.h2(F.relu(s.h1(s.drop(e.mean(2).flatten(1)))))
        return y, s.out(u)


ORDER = ["a1", "a2"] + [scale + layer for scale in "bcde" for layer in "123"] + ["ud", "uc", "ub"]
LAST = ["out", "h1", "h2"]


def distribution(y, maps):
    """Logarithms of the probabilities of 1 to MOST ridges, and the mean of the count."""
    total = F.softplus(maps[:, 0]).sum((1, 2))
    k = torch.arange(1, MOST + 1, device=y.device)

    def part(i):
        centre, deviation = total + y[:, i], torch.exp(y[:, i + 1].clamp(-1.5, 2.0))
        return F.log_softmax(-0.5 * ((k - centre[:, None]) / deviation[:, None]) ** 2, 1)

    logs = torch.logaddexp(F.logsigmoid(-y[:, 4:]) + part(0), F.logsigmoid(y[:, 4:]) + part(2))
    return logs, (logs.exp() * k).sum(1)


def marks(length):
    x = ((torch.arange(L, device=dev) + 0.5) / P - BEFORE)[None, None]
    y = ((torch.arange(H, device=dev) + 0.5 - H / 2) / P)[None, :, None]
    bump = lambda at: torch.exp(-((x - at) ** 2 + y**2) / (2 * MARK**2))
    return bump(torch.zeros_like(length)[:, None, None]) - bump(length[:, None, None])


def train(paths, steps, B, weights, old=None, seconds=None, seed=1):
    strips = Records(paths, HEAD, (2, H, L))
    # impressions of one finger stand beside each other: what is kept back are other fingers
    n = len(strips.parts[0])
    held = min(HELD, n // 5)
    print("strips", n, "held", held, flush=True)
    torch.manual_seed(seed)
    rand = lambda *s: torch.rand(*s, device=dev) * 2 - 1
    cx = (torch.arange(L // 2, device=dev) + 0.5) / (P / 2) - BEFORE
    cy = (torch.arange(H // 2, device=dev) + 0.5 - H / 4) / (P / 2)

    def batch(idx, aug=True):
        hd, I = (part[idx].float() for part in strips.parts)
        I = I / 127
        n = len(idx)
        length = hd[:, 1].clone()
        places = torch.cat([hd[:, 4:8], hd[:, 10 : 10 + 2 * COUNTED]], 1).reshape(n, 2 + COUNTED, 2)
        if aug:
            # the print stretched, slanted and mirrored, delta and core found elsewhere, another period: the count stays
            st, sl = torch.exp(rand(n) * 0.12), rand(n) * 0.12
            fl = torch.where(rand(n) < 0, -1.0, 1.0)
            M = torch.stack([torch.stack([st, sl], 1), torch.stack([0 * st, fl / st], 1)], 1)
            jit = torch.randn(n, 2, 2, device=dev) * 0.3 * torch.rand(n, 1, 1, device=dev)
            d = torch.einsum("bij,bj->bi", M, jit[:, 0])
            base = torch.stack([length, 0 * length], 1)
            c = torch.einsum("bij,bj->bi", M, base + jit[:, 1])
            sc = torch.exp(rand(n) * 0.12)
            far = torch.hypot(*(c - d).T)
            sc = torch.maximum(sc, far / LONGEST)
            co, si = (c - d).T / far
            rot = torch.stack([torch.stack([co, -si], 1), torch.stack([si, co], 1)], 1)  # to the print
            A = torch.linalg.solve(M, sc[:, None, None] * rot)  # p = A p' + off
            off = torch.linalg.solve(M, d[:, :, None])[:, :, 0]
            places = torch.einsum("bij,bkj->bki", torch.linalg.inv(A), places - off[:, None])
            length = far / sc
            # centred and in half widths, as affine_grid wants it
            S = torch.tensor([L / P / 2, H / P / 2], device=dev)
            mid = torch.tensor([L / P / 2 - BEFORE, 0.0], device=dev)
            shift = (torch.einsum("bij,j->bi", A, mid) + off - mid) / S
            T = torch.cat([A * S[None, None, :] / S[None, :, None], shift[:, :, None]], 2)
            I = F.grid_sample(I, F.affine_grid(T, (n, 2, H, L), align_corners=False), mode="bilinear", align_corners=False)
            I = weather(I)
        used = torch.arange(COUNTED, device=dev)[None] < hd[:, 8:9]
        line = lambda at, grid, s: torch.exp(-((grid[None, None] - at[:, :, None]) ** 2) / (2 * s * s)) + 1e-12
        share = lambda v: v / v.sum(2, keepdim=True)
        gx, gy = share(line(places[:, :, 0], cx, 0.35)), share(line(places[:, :, 1], cy, 0.35))
        rho = torch.einsum("bkx,bky->byx", gx[:, 2:] * used[:, :, None], gy[:, 2:])
        ends = [torch.einsum("bx,by->byx", gx[:, k], gy[:, k]).flatten(1) for k in (0, 1)]
        return torch.cat([I, marks(length)[:, None]], 1), hd[:, -READINGS:].long().clamp(1, MOST), rho, ends, hd[:, 2]

    net = (Count() if old is None else read(old, Count(), ORDER, LAST)).to(dev)
    if old is not None:
        restore_statistics(net, ORDER, batch(torch.randint(held, n, (B,), device=dev))[0])

    def loss():
        x, count, rho, ends, _ = batch(torch.randint(held, n, (B,), device=dev))
        y, maps = net(x)
        logs, _ = distribution(y, maps)
        # what each of the readings says, not their middle alone: where they differ the print leaves it open
        each = -logs.gather(1, count - 1)
        l1 = 0.5 * each[:, 0].mean() + 0.5 * each[:, 1:].mean()
        dens = F.softplus(maps[:, 0])
        l2 = ((dens - rho * torch.log(dens + 1e-6)).sum((1, 2)) / count[:, 0]).mean()
        l3 = sum(-(ends[k] * F.log_softmax(maps[:, 1 + k].flatten(1), 1)).sum(1).mean() for k in (0, 1))
        return l1 + 0.3 * l2 + 0.1 * l3, [l1, l2, l3]

    def look(mean):
        told = []
        for i in range(0, held, 250):
            x, count, _, _, q = batch(torch.arange(i, min(i + 250, held), device=dev), False)
            logs, mu = distribution(*mean(x))
            settled = (count[:, 1:] == count[:, :1]).sum(1) >= 7
            count = count[:, 0]
            off = (logs.argmax(1) + 1 - count).abs()
            told.append(torch.stack([q, (off == 0).float(), (off <= 1).float(), -logs.gather(1, count[:, None] - 1)[:, 0], mu - count, settled.float()], 1))
        t = torch.cat(told)
        by = " ".join(
            f"{name} {t[t[:, 0] == k, 1].mean():.3f}/{t[t[:, 0] == k, 2].mean():.3f} settled {t[(t[:, 0] == k) & (t[:, 5] > 0), 1].mean():.3f}" for k, name in enumerate(QUALITIES)
        )
        return t[:, 3].mean(), f"of {n} exact/one {by} loss {t[:, 3].mean():.3f} bias {t[:, 4].mean():.3f}"

    def more():
        nonlocal n
        n = strips.more()

    pace, every = 2e-3 if old is None else 1.6e-3, 20 if dev == "cpu" else 500
    return learn(net, (ORDER, LAST), steps, seconds, weights, loss, look, more=more, pace=pace, decay=3e-2, lasting=min(0.999, 1 - 5 / steps), every=every)


if __name__ == "__main__":
    steps, weights, paths, options = given()
    write(train(paths, steps, 192, weights, **options), weights, ORDER, LAST)
