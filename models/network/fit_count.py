"""Trains the network that counts the ridges of a loop between delta and core, on drawn loops (see README.md).

cargo run --release --example network_prints -- 100000000 40000 - STRIPS.bin - -
DEV=cpu python3 models/network/fit_count.py STEPS WEIGHTS.bin STRIPS.bin...   (DEV=cuda with a GPU)

With --from=OLD.bin before the strips, training goes on from those weights on other strips, at four fifths of the pace.
"""

import sys, time
import torch, torch.nn as nn, torch.nn.functional as F
from fit import averaged, cbr, dev, load, read, restore_statistics, sched, weather, write

H, L, P = 64, 240, 5.0  # rows, columns, samples a period
BEFORE = 6.0  # periods of print before the delta
MARK = 1.5  # spread of the marks of delta and core, periods
COUNTED = 40
READINGS = 5
HEAD = 10 + 2 * COUNTED + READINGS
MOST = 48  # counts that are told apart
WIDTHS = [16, 32, 48, 64, 96]  # channels from the finest scale to the coarsest
LONGEST = L / P - 2 * BEFORE


class Count(nn.Module):
    """Strip and marks (3 planes) to maps at half its width (ridges counted, delta, core) and two numbers: what the sum of the first
    map lacks, in ridges, and the logarithm of the deviation."""

    def __init__(s):
        super().__init__()
        a, b, c, d, e = WIDTHS
        s.a = cbr(3, a, 5)
        s.b1 = cbr(a, b, 3, 2)
        s.b2 = cbr(b, b)  # 32 x 120
        s.c1 = cbr(b, c, 3, 2)
        s.c2 = cbr(c, c)  # 16 x 60
        s.d1 = cbr(c, d, 3, 2)
        s.d2 = cbr(d, d)  # 8 x 30
        s.e1 = cbr(d, e, 3, 2)
        s.e2 = cbr(e, e)  # 4 x 15
        s.ud = cbr(e + d, d)
        s.uc = cbr(d + c, c)
        s.ub = cbr(c + b, b)
        s.out = nn.Conv2d(b, 3, 1)
        s.drop = nn.Dropout(0.3)
        s.h1 = nn.Linear(e * 15, 64)
        s.h2 = nn.Linear(64, 2)
        s.out.bias.data[:] = -6.0  # ten ridges in all

    def forward(s, x):
        b = s.b2(s.b1(s.a(x)))
        c = s.c2(s.c1(b))
        d = s.d2(s.d1(c))
        e = s.e2(s.e1(d))
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        u = s.ud(torch.cat([up(e), d], 1))
        u = s.uc(torch.cat([up(u), c], 1))
        u = s.ub(torch.cat([up(u), b], 1))
        y = s.h2(F.relu(s.h1(s.drop(e.mean(2).flatten(1)))))
        return y, s.out(u)


ORDER = ["a", "b1", "b2", "c1", "c2", "d1", "d2", "e1", "e2", "ud", "uc", "ub"]
LAST = ["out", "h1", "h2"]


def distribution(y, maps):
    """Logarithms of the probabilities of 1 to MOST ridges, and mean and deviation of the count."""
    mu = F.softplus(maps[:, 0]).sum((1, 2)) + y[:, 0]
    sigma = torch.exp(y[:, 1].clamp(-1.5, 2.0))
    k = torch.arange(1, MOST + 1, device=y.device)
    return F.log_softmax(-0.5 * ((k - mu[:, None]) / sigma[:, None]) ** 2, 1), mu, sigma


def marks(length):
    x = ((torch.arange(L, device=dev) + 0.5) / P - BEFORE)[None, None]
    y = ((torch.arange(H, device=dev) + 0.5 - H / 2) / P)[None, :, None]
    bump = lambda at: torch.exp(-((x - at) ** 2 + y**2) / (2 * MARK**2))
    return bump(torch.zeros_like(length)[:, None, None]) - bump(length[:, None, None])


def train(paths, steps, B, old=None, seed=1):
    h, im = load(paths, HEAD, (2, H, L))
    n = len(h)
    held = min(2000, n // 5)
    print("strips", n, "held", held, flush=True)
    torch.manual_seed(seed)
    order = torch.randperm(n)
    h, im = h[order].to(dev), im[order].to(dev)
    rand = lambda *s: torch.rand(*s, device=dev) * 2 - 1
    cx = (torch.arange(L // 2, device=dev) + 0.5) / (P / 2) - BEFORE
    cy = (torch.arange(H // 2, device=dev) + 0.5 - H / 4) / (P / 2)

    def batch(idx, aug=True):
        hd, I = h[idx], im[idx].float() / 127
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
    decay = min(0.999, 1 - 5 / steps)
    mean = averaged(net, decay)
    pace = 2e-3 if old is None else 1.6e-3
    opt = torch.optim.AdamW(net.parameters(), lr=pace, weight_decay=3e-2)
    t1 = time.time()
    every = 20 if dev == "cpu" else 500
    for step in range(steps):
        sched(opt, pace, step, steps)
        net.train()
        x, count, rho, ends, _ = batch(torch.randint(held, n, (B,), device=dev))
        y, maps = net(x)
        logs, _, _ = distribution(y, maps)
        # what each of the readings says, not their middle alone: where they differ the print leaves it open
        l1 = -logs.gather(1, count - 1).mean()
        dens = F.softplus(maps[:, 0])
        l2 = ((dens - rho * torch.log(dens + 1e-6)).sum((1, 2)) / count[:, 0]).mean()
        l3 = sum(-(ends[k] * F.log_softmax(maps[:, 1 + k].flatten(1), 1)).sum(1).mean() for k in (0, 1))
        (l1 + 0.3 * l2 + 0.1 * l3).backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        opt.step()
        opt.zero_grad()
        mean.update_parameters(net)
        if (step + 1) % every == 0 or step + 1 == steps:
            mean.eval()
            told = []
            with torch.no_grad():
                for i in range(0, held, 250):
                    x, count, _, _, q = batch(torch.arange(i, min(i + 250, held), device=dev), False)
                    logs, mu, sigma = distribution(*mean(x))
                    settled = (count == count[:, :1]).sum(1) >= 4
                    count = count[:, 0]
                    off = (logs.argmax(1) + 1 - count).abs()
                    told.append(torch.stack([q, (off == 0).float(), (off <= 1).float(), -logs.gather(1, count[:, None] - 1)[:, 0], mu - count, settled.float()], 1))
            t = torch.cat(told)
            by = " ".join(
                f"{name} {t[t[:, 0] == k, 1].mean():.3f}/{t[t[:, 0] == k, 2].mean():.3f} settled {t[(t[:, 0] == k) & (t[:, 5] > 0), 1].mean():.3f}" for k, name in enumerate(["good", "fair", "poor"])
            )
            print(step + 1, f"{l1.item():.3f} {l2.item():.3f} {l3.item():.3f} exact/one {by} loss {t[:, 3].mean():.3f} bias {t[:, 4].mean():.3f} {time.time()-t1:.0f}s", flush=True)
    return mean.module


if __name__ == "__main__":
    steps, weights, *rest = sys.argv[1:]
    old = next((a.removeprefix("--from=") for a in rest if a.startswith("--from=")), None)
    strips = [a for a in rest if not a.startswith("--from=")]
    write(train(strips, int(steps), 192, old), weights, ORDER, LAST)
